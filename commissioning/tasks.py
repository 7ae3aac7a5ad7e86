"""The one Celery task: it carries a job's id."""

from celery import shared_task
from django.db import close_old_connections

from portfolio.jobs import runner


@shared_task(name="run_job")  # type: ignore[untyped-decorator]
def run_job(job_id: int) -> None:
    close_old_connections()
    runner.run(job_id)
