"""The only place where the reduction knows Django."""

from django.apps import AppConfig


class ReductionConfig(AppConfig):
    name = "reduction"
    verbose_name = "Reduction"
