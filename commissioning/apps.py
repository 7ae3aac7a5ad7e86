from django.apps import AppConfig


class CommissioningConfig(AppConfig):
    name = "commissioning"
    verbose_name = "What happened to a position"
