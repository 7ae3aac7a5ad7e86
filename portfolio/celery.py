"""The Celery application: it carries job ids, nothing else. The job table is the truth (docs/decisions/0002)."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "portfolio.settings")

app = Celery("ventfolio")


def configure(broker_url: str) -> None:
    app.conf.update(
        broker_url=broker_url or "memory://",
        task_ignore_result=True,
        task_acks_late=True,
        task_reject_on_worker_lost=True,
        worker_prefetch_multiplier=1,
        # A worker that lost Redis finishes what it has: the fence in the table decides what counts. Killing it would
        # leave its jobs to the end of their lease.
        worker_cancel_long_running_tasks_on_connection_loss=False,
        worker_max_tasks_per_child=500,
        worker_soft_shutdown_timeout=20,
        task_time_limit=300,
        task_soft_time_limit=240,
        accept_content=["json"],
        task_serializer="json",
        broker_connection_max_retries=None,
        broker_connection_retry_on_startup=True,
        broker_transport_options={
            "visibility_timeout": 900,
            "unacked_restore_throttle": 1,
            "socket_timeout": 2,
            "socket_connect_timeout": 2,
            "health_check_interval": 25,
            "max_retries": 1,
        },
        timezone="UTC",
        # Celery would close the database connection before and after each task, and a new one costs more than all
        # that happens from a commit to the start of its job. `run_job` looks whether the one that is kept still works.
        CELERY_DB_REUSE_MAX=1_000_000,
    )


def _from_settings() -> None:
    from django.conf import settings

    configure(settings.BROKER_URL)
    app.autodiscover_tasks(["commissioning"])


_from_settings()
