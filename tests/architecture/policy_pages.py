"""The policy's lines for pages; see policy.py for what a line means."""

import hashlib
from collections.abc import Callable
from urllib.parse import urlencode

from django.utils import timezone

from commissioning.models import IssueEvent
from commissioning.pages.record_forms import FORMS
from portfolio.blobs.photos import accept_photo
from tests.architecture.policy import EVERYONE, FIRM, PROJECT, STAGE, THINGS, line
from tests.architecture.policy_binders import BINDER
from tests.cast import Cast
from tests.portfolio.photographs import jpeg

# --- the way in, open to anybody ---------------------------------------------------------------------------------
line("GET login", sees=EVERYONE, public=True)
line("POST login", sees=EVERYONE, public=True, ok=400)  # without mail address and password it is the form again
line("POST logout", sees=EVERYONE, public=True, ok=303)
line("POST display", sees=EVERYONE, public=True, ok=303)

# --- what stands, each person's own ------------------------------------------------------------------------------
line("GET ", sees=EVERYONE)
line("GET work.csv", sees=EVERYONE)
line("GET issues", sees=EVERYONE)
line("GET traverse", sees=EVERYONE)
line("GET projects", sees=EVERYONE, shows="p1")

# --- one thing at a time -----------------------------------------------------------------------------------------
FORM = "application/x-www-form-urlencoded"


def form(**fields: str) -> Callable[[Cast], bytes]:
    return lambda _: urlencode(fields).encode()


line("GET units/<uuid:pk>", pk="position", sees=STAGE, shows="stage")
line(
    "POST units/<uuid:pk>/sign",  # nothing is measured there yet
    pk="position",
    sees=STAGE,
    may="lead",
    ok=409,
    content=form(of="0" * 64),
    content_type=FORM,
)
line("GET units/<uuid:pk>/settings", pk="position", sees=STAGE, shows="stage")
line("GET units/<uuid:pk>/trends", pk="position", sees=STAGE, shows="stage")
for where in ("", "/series.json", "/samples.csv"):  # no log is kept there: tests/pages/test_trend.py looks at one
    line(f"GET units/<uuid:pk>/trends/<int:number>{where}", pk="position", number=lambda *_: 1, sees=STAGE, ok=404)
for where in ("restore", "start"):
    line(f"GET units/<uuid:pk>/{where}", pk="position", sees=STAGE, shows="stage")
    line(f"GET units/<uuid:pk>/{where}.pdf", pk="position", sees=STAGE)
for where in ("record", *(f"record/{form_.kind}" for form_ in FORMS)):
    who = "lead technician contractor" if where == "record/checklist" else "lead technician"
    line(f"GET units/<uuid:pk>/{where}", pk="position", sees=STAGE, may=who, shows="stage")
    line(
        f"POST units/<uuid:pk>/{where}",  # an empty form is given back with what is missing
        pk="position",
        sees=STAGE,
        may=who,
        ok=400,
        content=form(),
        content_type=FORM,
    )
for where in ("outlets", "equipment"):
    line(f"GET units/<uuid:pk>/{where}", pk="position", sees=STAGE, may="lead", shows="stage")
    line(
        f"POST units/<uuid:pk>/{where}",  # an empty form is given back with what is missing
        pk="position",
        sees=STAGE,
        may="lead",
        ok=400,
        content=form(),
        content_type=FORM,
    )
line("GET firms/<uuid:pk>/checks", pk="firm", sees=FIRM, may="lead", shows="a")
line(
    "POST firms/<uuid:pk>/checks",
    pk="firm",
    sees=FIRM,
    may="lead",
    ok=303,
    content=form(act="keep", text='drop = ["level"]'),
    content_type=FORM,
)
line("GET firms/<uuid:pk>/procedures", pk="firm", sees=FIRM, may="lead", shows="a")
line(
    "POST firms/<uuid:pk>/procedures",
    pk="firm",
    sees=FIRM,
    may="lead",
    ok=303,
    content=form(act="keep", text='reword = [{procedure = "frost", step = "air_left", look = "At one door."}]'),
    content_type=FORM,
)
line("GET buildings/<uuid:pk>", pk="building", sees=STAGE, shows="stage")
line("GET buildings/<uuid:pk>/balance", pk="building", sees=STAGE, shows="stage")
line("GET projects/<uuid:pk>", pk="project", sees=PROJECT, shows="p1")
line("GET projects/<uuid:pk>/meeting", pk="project", sees=PROJECT, shows="p1")
line("GET projects/<uuid:pk>/meeting.pdf", pk="project", sees=PROJECT)

# --- issues ------------------------------------------------------------------------------------------------------
line("GET issues/<uuid:pk>", pk="issue", sees=STAGE, shows="stage")
line("GET issues/<uuid:pk>/acts", pk="issue", sees=STAGE, ok=303)
line(
    "POST issues/<uuid:pk>/acts",
    pk="issue",
    sees=STAGE,
    may="contractor",
    ok=303,
    content=form(act="answer_ready", version="1", text="the damper opens now"),
    content_type=FORM,
)
_COMPANY = {"project_id": "project", "company_id": "company"}
line("GET projects/<uuid:project_id>/companies/<uuid:company_id>/list", **_COMPANY, sees=PROJECT, shows="p1")
line(
    "POST projects/<uuid:project_id>/companies/<uuid:company_id>/list",  # without a file it is the page again
    **_COMPANY,
    sees=PROJECT,
    ok=400,
    content=form(),
    content_type=FORM,
)
line("GET projects/<uuid:project_id>/companies/<uuid:company_id>/link", **_COMPANY, sees=PROJECT, ok=303)
line(
    "POST projects/<uuid:project_id>/companies/<uuid:company_id>/link",
    **_COMPANY,
    sees=PROJECT,
    may="lead",
    ok=200,
    content=form(),
    content_type=FORM,
)
# a secret that nobody was given opens nothing, whoever asks
line("GET answer/<str:secret>", secret=lambda cast, actor: "guessed", sees=EVERYONE, public=True, ok=404)
line("POST answer/<str:secret>", secret=lambda cast, actor: "guessed", sees=EVERYONE, public=True, ok=404)


def _photo_of_the_issue(cast: Cast) -> None:
    photo = accept_photo(jpeg())
    IssueEvent.objects.create(
        issue=cast.things["issue"], at=timezone.now(), act="add_photo", detail={"sha256": photo.sha256}
    )


THINGS.append(_photo_of_the_issue)
line(
    "GET api/v1/photos/<sha256:sha256>/copy",
    sha256=lambda cast, actor: hashlib.sha256(jpeg()).hexdigest(),
    sees=STAGE,
)
line("GET photos/<sha256:sha256>", sha256=lambda cast, actor: hashlib.sha256(jpeg()).hexdigest(), sees=STAGE)

# --- schedules and binders ---------------------------------------------------------------------------------------
line("GET projects/<uuid:pk>/import", pk="project", sees=PROJECT, may="lead", shows="p1")
line(
    "POST projects/<uuid:pk>/import",
    pk="project",
    sees=PROJECT,
    may="lead",
    ok=303,
    content=form(pasted="TAG\tSUPPLY CFM\nERV-9\t900\n"),
    content_type=FORM,
)
line("GET imports/<uuid:pk>", pk="import", sees=PROJECT, may="lead", shows="stage")
line(
    "POST imports/<uuid:pk>",
    pk="import",
    sees=PROJECT,
    may="lead",
    ok=303,
    content=form(air_basis="standard"),
    content_type=FORM,
)
line("GET imports/<uuid:pk>/apply", pk="import", sees=PROJECT, may="lead", ok=303)
line("POST imports/<uuid:pk>/apply", pk="import", sees=PROJECT, may="lead", ok=303)
line("GET projects/<uuid:pk>/binders", pk="project", sees=PROJECT, shows="p1")
line(
    "POST projects/<uuid:pk>/binders",
    pk="project",
    sees=PROJECT,
    may="lead owner",
    ok=303,
    content=lambda cast: urlencode({"title": "Closeout", "building": str(cast.things["building"].pk)}).encode(),
    content_type=FORM,
)
line("GET binders/<uuid:pk>", pk="binder", sees=BINDER, shows="stage")
