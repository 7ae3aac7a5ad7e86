"""The policy's lines for verification samples, visits and instruments; see policy.py for what a line means."""

from urllib.parse import urlencode

from commissioning.samples.draw import Terms, draw
from portfolio.models import Position
from tests.architecture.policy import PROJECT, STAGE, THINGS, Sight, line
from tests.architecture.policy_pages import FORM, form
from tests.cast import Cast


def _on_stage(cast: Cast) -> None:
    """A sample of the stage's unit, by the lead."""
    cast.things["sample"] = draw(
        project=cast.things["project"],
        person=cast.person("own", "lead"),
        title=cast.named("stage", "Stage"),
        units=list(Position.objects.filter(pk=cast.things["position"].pk)),
        terms=Terms(0.95, 0.1),
        seed=cast.named("stage", "seed"),
    )


THINGS.append(_on_stage)

SAMPLE: Sight = {"own": STAGE["own"] - {"contractor"}}
_NOT_FOR_CONTRACTORS: Sight = {relation: roles - {"contractor"} for relation, roles in PROJECT.items()}
_TYPED = {"title": "Stage", "confidence": "95", "share": "10", "act": "draw"}
_TERMS = {"title": "Stage", "confidence": 0.95, "largest_defective_share": 0.1}

_CREW: Sight = {relation: roles & {"lead", "technician"} for relation, roles in PROJECT.items()}
line("GET projects/<uuid:pk>/visits", pk="project", sees=PROJECT, may=_CREW, shows="p1")
line("GET projects/<uuid:pk>/visits.pdf", pk="project", sees=PROJECT, may=_CREW)
line(
    "POST projects/<uuid:pk>/visits",
    pk="project",
    sees=PROJECT,
    may={"own": frozenset({"lead"}), "near": frozenset({"lead"})},
    ok=400,
    body={"unit": ""},
)
line("GET api/v1/projects/<uuid:project_id>/visits", project_id="project", sees=PROJECT, may=_CREW)
_VISIT = "api/v1/positions/<uuid:pk>/visit"
_FIRST = {"If-Match": '"0"'}
line(f"GET {_VISIT}", pk="position", sees=STAGE, may="lead")
line(f"PUT {_VISIT}", pk="position", sees=STAGE, may="lead", headers=_FIRST, body={"day": None, "person": None})
line(f"DELETE {_VISIT}", pk="position", sees=STAGE, may="lead", headers=_FIRST)
line(
    f"POST {_VISIT}/wasted",  # its issue is not declared ready yet
    pk="position",
    sees=STAGE,
    may="lead",
    ok=409,
    headers=_FIRST,
    body={"cause": "the roof was locked"},
)
line("GET api/v1/projects/<uuid:project_id>/samples", project_id="project", sees=PROJECT, may=_NOT_FOR_CONTRACTORS)
line(
    "POST api/v1/projects/<uuid:project_id>/samples",
    project_id="project",
    sees={"own": STAGE["own"] - {"contractor"}},  # a contractor finds no unit that could be drawn
    may="lead",
    body=lambda cast: {**_TERMS, "buildings": [str(cast.things["building"].pk)]},
)
line("GET api/v1/samples/<uuid:pk>", pk="sample", sees=SAMPLE, shows="stage")
line("POST api/v1/samples/<uuid:pk>/enlargement", pk="sample", sees=SAMPLE, may="lead", ok=409)
line("GET projects/<uuid:pk>/samples", pk="project", sees=PROJECT, may=_NOT_FOR_CONTRACTORS, shows="p1")
line(
    "POST projects/<uuid:pk>/samples",
    pk="project",
    sees=PROJECT,
    may="lead",
    ok=303,
    content=lambda cast: urlencode({**_TYPED, "building": str(cast.things["building"].pk)}).encode(),
    content_type=FORM,
)
line("GET samples/<uuid:pk>", pk="sample", sees=SAMPLE, shows="stage")
line("POST samples/<uuid:pk>", pk="sample", sees=SAMPLE, may="lead", ok=409, content=form(), content_type=FORM)
line("GET projects/<uuid:pk>/instruments", pk="project", sees=PROJECT, may=_NOT_FOR_CONTRACTORS, shows="p1")
