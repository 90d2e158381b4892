"""Rows from before the chains are linked as they stand, each book in the order it was written."""

from django.db import migrations

from labbook.models.evidence import book_of, digest_of, hash_of

# Each kind of evidence there was, with the fields that stay open in it.
KINDS = {
    "BenchConfiguration": (),
    "BenchEvent": (),
    "Decision": (),
    "Exclusion": ("ended_at", "ended_by", "ended_for"),
    "FrozenLimits": (),
    "LoggerFile": (),
    "ReadingBlock": ("folded_at",),
    "ReadingStrike": (),
    "Result": (),
    "SheetEntry": (),
}


def link_rows(apps, schema_editor):
    Book, Link = apps.get_model("labbook", "Book"), apps.get_model("labbook", "Link")
    using = schema_editor.connection.alias
    for name, later in KINDS.items():
        model = apps.get_model("labbook", name)
        for row in model._base_manager.using(using).order_by("pk").iterator(chunk_size=500):
            book, _ = Book.objects.using(using).get_or_create(name=book_of(row))
            link = Link(
                book=book,
                number=book.length + 1,
                kind=model._meta.model_name,
                record=row.pk,
                digest=digest_of(row, later),
            )
            link.hash = hash_of(link, book.head)
            link.save(using=using)
            book.length, book.head = link.number, link.hash
            book.save(using=using)


class Migration(migrations.Migration):
    dependencies = [("labbook", "0004_evidence")]
    operations = [migrations.RunPython(link_rows, migrations.RunPython.noop)]
