"""What people say around a firing: checks, answers to notes, what happened. All append-only."""

from __future__ import annotations

from django.db import models

from .evidence import Evidence


class FiringCheck(Evidence):
    """One item of the checklist before firing, ticked or unticked by a named person."""

    run = models.ForeignKey("Run", on_delete=models.PROTECT, related_name="checks")
    item = models.CharField(max_length=200)
    is_done = models.BooleanField(default=True)
    at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")
    person = models.ForeignKey("Person", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.item}: {'done' if self.is_done else 'not done'}"


class NoteAnswer(Evidence):
    """What the group answered to a note that asks; the newest answer to a note stands."""

    class Answer(models.TextChoices):
        AS_IT_IS = "as it is", "it is right as it is"
        WILL_CORRECT = "will correct", "it will be corrected"
        LEAVE_OUT = "leave out", "leave it out and say so"
        ASKED = "asked", "the TA was asked"

    run = models.ForeignKey("Run", on_delete=models.PROTECT, related_name="answers")
    code = models.CharField(max_length=40)
    field = models.CharField(max_length=24, blank=True)
    # The note as it was shown: an answer holds for this sentence and no other.
    sentence = models.CharField(max_length=600)
    answer = models.CharField(max_length=12, choices=Answer)
    words = models.CharField(max_length=400, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")
    entered_by = models.ForeignKey(
        "Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["run", "code"], name="answers_of_run")]

    def __str__(self) -> str:
        return f"{self.code}: {self.get_answer_display()}"


class Happening(Evidence):
    """Something that happened during a run, from a list, with a remark."""

    class Kind(models.TextChoices):
        NO_IGNITION = "no ignition", "the charge did not light"
        LEAK = "leak", "a leak was seen or heard"
        SOOT = "soot", "soot or residue in the vessel"
        SPILL = "spill", "water, washings or sample spilled"
        STIRRER = "stirrer", "the stirrer stopped or was started late"
        LID = "lid", "the lid or the jacket was opened"
        LATE = "late", "readings were late or missed"
        LOGGER = "logger", "the logger or its cable failed"
        BROKEN = "broken", "the pellet broke or lost material"
        OTHER = "other", "something else"

    run = models.ForeignKey("Run", on_delete=models.PROTECT, related_name="happenings")
    kind = models.CharField(max_length=12, choices=Kind)
    words = models.CharField(max_length=400, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")
    entered_by = models.ForeignKey(
        "Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.get_kind_display()
