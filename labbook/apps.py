from django.apps import AppConfig


class LabbookConfig(AppConfig):
    name = "labbook"
    verbose_name = "Combustion bench record"
