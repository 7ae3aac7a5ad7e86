"""The policy's lines for trend logs on their way in; see policy.py for what a line means."""

import hashlib
from typing import Any

from commissioning.evidence.trends import mapping, receiving
from commissioning.models import TrendUpload
from tests.architecture.policy import STAGE, THINGS, line
from tests.architecture.policy_pages import FORM, form
from tests.cast import Cast
from tests.logs.odd_logs import GOOD, rows

_LOG = rows(*GOOD)
_MAPPING: dict[str, Any] = {
    "source": "North",
    "zone": "America/Chicago",
    "points": [{"name": "SAT (°F)", "role": "supply_temperature", "unit": "degF"}],
}


def _upload(cast: Cast, name: str) -> TrendUpload:
    declared = receiving.Declared(cast.named("stage", name), len(_LOG), hashlib.sha256(_LOG).hexdigest())
    return receiving.begin(position=cast.things["position"], person=cast.person("own", "technician"), declared=declared)


def _on_stage(cast: Cast) -> None:
    """A log that came in, with a mapping."""
    upload = receiving.take(_upload(cast, "night.csv").pk, offset=0, piece=_LOG)
    person = cast.person("own", "technician")
    mapping.apply(upload, mapping.read_mapping(_MAPPING | {"source": cast.named("stage", "North")}), person)
    cast.things["trend_upload"] = upload


THINGS.append(_on_stage)

line(
    "POST api/v1/positions/<uuid:pk>/trend-uploads",
    pk="position",
    sees=STAGE,
    may="lead technician",
    body={"file_name": "night.csv", "bytes": len(_LOG), "sha256": hashlib.sha256(_LOG).hexdigest()},
)
line("GET api/v1/trend-uploads/<uuid:pk>", pk="trend_upload", sees=STAGE, shows="stage")
line(
    "PATCH api/v1/trend-uploads/<uuid:pk>",  # it is complete: nothing more is taken
    pk="trend_upload",
    sees=STAGE,
    may="lead technician",
    ok=409,
    content=lambda _: b"x",
    content_type="application/octet-stream",
    headers={"Upload-Offset": "0"},
)
line(
    "PUT api/v1/trend-uploads/<uuid:pk>/mapping",
    pk="trend_upload",
    sees=STAGE,
    may="lead technician",
    body=_MAPPING,
)
line(
    "POST api/v1/trend-uploads/<uuid:pk>/acceptance",  # it is not yet converted
    pk="trend_upload",
    sees=STAGE,
    may="lead technician",
    ok=409,
)

# --- its pages ---------------------------------------------------------------------------------------------------
line("GET units/<uuid:pk>/trends/new", pk="position", sees=STAGE, may="lead technician", shows="stage")
line(
    "POST units/<uuid:pk>/trends/new",  # without a file it is given back
    pk="position",
    sees=STAGE,
    may="lead technician",
    ok=400,
    content=form(),
    content_type=FORM,
)
line("GET trend-uploads/<uuid:pk>", pk="trend_upload", sees=STAGE, shows="stage")
line("GET buildings/<uuid:pk>/trends", pk="building", sees=STAGE, shows="stage")
line(
    "POST trend-uploads/<uuid:pk>",  # an empty mapping is given back
    pk="trend_upload",
    sees=STAGE,
    may="lead technician",
    ok=400,
    content=form(),
    content_type=FORM,
)
