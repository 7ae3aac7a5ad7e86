from django.apps import AppConfig


class NestedConfig(AppConfig):
    name = "tests.bench.nested"
    label = "nested"
    default_auto_field = "django.db.models.BigAutoField"
