from django.db import models


class Row(models.Model):
    text = models.CharField(max_length=40)

    class Meta:
        app_label = "bare"

    def __str__(self) -> str:
        return self.text
