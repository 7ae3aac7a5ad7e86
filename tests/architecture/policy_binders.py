"""The policy's lines for binders; see policy.py for what a line means."""

from django.utils import timezone

from commissioning.models import Binder
from portfolio.blobs.store import keep
from tests.architecture.policy import PROJECT, STAGE, THINGS, line
from tests.cast import Cast


def _on_stage(cast: Cast) -> None:
    """A binder of the stage's unit, built."""
    binder = Binder.objects.create(
        project=cast.things["project"],
        title=cast.named("stage", "Closeout"),
        asked_by=cast.person("own", "lead"),
        input_hash="0" * 64,
        frozen=keep(cast.named("stage", "{}").encode(), "application/json"),
        document=keep(cast.named("stage", "%PDF").encode(), "application/pdf"),
        pages=1,
        built_at=timezone.now(),
    )
    binder.positions.set([cast.things["position"]])
    cast.things["binder"] = binder


THINGS.append(_on_stage)

BINDER = {"own": STAGE["own"] - {"contractor"}}  # it tells the story of other companies' issues too

line("GET api/v1/projects/<uuid:project_id>/binders", project_id="project", sees=PROJECT)
line(
    "POST api/v1/projects/<uuid:project_id>/binders",
    project_id="project",
    sees=STAGE,  # who sees the project and not the unit named finds no such unit
    may="lead owner",
    ok=202,
    body=lambda cast: {"title": "Closeout", "building": str(cast.things["building"].pk)},
)
line("GET api/v1/binders/<uuid:pk>", pk="binder", sees=BINDER, shows="stage")
line("GET api/v1/binders/<uuid:pk>/file", pk="binder", sees=BINDER)
line("GET api/v1/binders/<uuid:pk>/frozen", pk="binder", sees=BINDER)
