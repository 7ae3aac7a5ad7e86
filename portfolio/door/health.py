"""Whether the server lives, and whether the whole installation works: for machines that watch it."""

from datetime import timedelta

from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.db.models import Q
from django.db.models.functions import Now
from django.http import HttpRequest, JsonResponse

from portfolio.models import Beat, Job

LATE_S = 60


def lives(request: HttpRequest) -> JsonResponse:
    """This process answers. Says nothing of anything else, so that a slow database does not kill the web."""
    return JsonResponse({"lives": True})


def ready(request: HttpRequest) -> JsonResponse:
    """503 without database or with migrations to apply; *degraded* while jobs wait and nobody does them."""
    try:
        executor = MigrationExecutor(connection)
        behind = bool(executor.migration_plan(executor.loader.graph.leaf_nodes()))
        late = Job.objects.filter(
            Q(lease_until__isnull=True) | Q(lease_until__lt=Now()),
            Q(not_before__isnull=True) | Q(not_before__lt=Now()),
            due=True,
            changed_at__lt=Now() - timedelta(seconds=LATE_S),
        ).count()
        beating = Beat.objects.filter(at__gt=Now() - timedelta(seconds=LATE_S)).exists()
        given_up = Job.objects.filter(due=False).exclude(error="").count()
    except DatabaseError:
        return JsonResponse({"state": "no database"}, status=503)
    state = "behind" if behind else "degraded" if late or not beating else "ready"
    body = {"state": state, "late_jobs": late, "given_up_jobs": given_up, "somebody_does_jobs": beating}
    return JsonResponse(body, status=503 if behind else 200)
