"""Results of reductions. Each computation is a new row; old ones stay."""

from django.db import models

from .evidence import Evidence


class Result(Evidence):
    run = models.ForeignKey("Run", on_delete=models.PROTECT, related_name="results")
    at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=200)
    version = models.CharField("reduction version", max_length=20)
    failure = models.CharField(max_length=500, blank=True)
    # Copies from the outputs, for lists and histories. They stand before the outputs: a database
    # reads a row from its front, and the outputs are long.
    rise_k = models.FloatField(null=True, blank=True)
    c_j_per_k = models.FloatField("C at nominal water (J/K)", null=True, blank=True)
    du_j_per_g = models.FloatField(null=True, blank=True)
    dch_kj_per_mol = models.FloatField(null=True, blank=True)
    fore_drift_k_per_s = models.FloatField(null=True, blank=True)
    after_drift_k_per_s = models.FloatField(null=True, blank=True)
    time_to_95_s = models.FloatField("95 % of the rise after (s)", null=True, blank=True)
    noise_k = models.FloatField("reading noise (K)", null=True, blank=True)
    inputs_sha256 = models.CharField(max_length=64)
    inputs = models.JSONField()
    outputs = models.JSONField(default=dict)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"result {self.pk} of {self.run}"
