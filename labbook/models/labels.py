"""The words a field is shown by."""

from django.db.models import Field, Model


def label_of(model: type[Model] | Model, name: str) -> str:
    field = model._meta.get_field(name)
    assert isinstance(field, Field)
    return str(field.verbose_name)
