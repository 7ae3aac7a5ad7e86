from django.apps import AppConfig


class PortfolioConfig(AppConfig):
    name = "portfolio"
    verbose_name = "Who, where, what was designed, and the machine room"

    def ready(self) -> None:
        from django.db.models.signals import post_migrate

        from portfolio import checks  # noqa: F401  (registers the system checks)
        from portfolio.models import insert_only

        # SQLite drops a table's triggers when a migration remakes the table: put them back each time.
        post_migrate.connect(insert_only.reinstall, dispatch_uid="insert-only triggers")
