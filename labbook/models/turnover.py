"""Terms that come and go: rosters taken in, what is kept how long, and closing."""

from __future__ import annotations

from django.db import models

from .evidence import Evidence


class RosterImport(models.Model):
    """A roster that was applied: what it added, moved and ended. The file itself is not kept."""

    term = models.ForeignKey("Term", on_delete=models.PROTECT, related_name="roster_imports")
    name = models.CharField(max_length=255)
    sha256 = models.CharField(max_length=64)
    format = models.CharField(max_length=20)
    # Counts only: names go when their time is over, and this row stays.
    counts = models.JSONField(default=dict)
    at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.name} for {self.term}"


class LegalHold(Evidence):
    """While it stands, nothing of its term is purged. Lifted by a coordinator, with a reason."""

    LATER = ("lifted_at", "lifted_by", "lifted_because")

    term = models.ForeignKey("Term", on_delete=models.PROTECT, related_name="holds")
    reason = models.CharField(max_length=400)
    at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")
    lifted_at = models.DateTimeField(null=True, blank=True)
    lifted_by = models.ForeignKey(
        "Account", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    lifted_because = models.CharField(max_length=400, blank=True)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"hold on {self.term}: {self.reason}"


class TermClosing(Evidence):
    """A term closed: the archive made, and its checksum, so that it can be verified later."""

    term = models.OneToOneField("Term", on_delete=models.PROTECT, related_name="closing")
    archive_name = models.CharField(max_length=255)
    archive_sha256 = models.CharField(max_length=64)
    counts = models.JSONField(default=dict)
    at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"closing of {self.term}"


class Purge(Evidence):
    """Names or marks removed for good when their time was over: a report without either."""

    class What(models.TextChoices):
        NAMES = "names", "names and student numbers"
        MARKS = "marks", "marks and their remarks"

    term = models.ForeignKey("Term", on_delete=models.PROTECT, related_name="purges")
    what = models.CharField(max_length=8, choices=What)
    report = models.JSONField(default=dict)
    at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.get_what_display()} of {self.term} removed"
