"""Who gets what answer from every route: the table that the matrix holds the server to.

**A route that you add needs a line here for each of its methods**, or tests/architecture/test_matrix.py is red:

    line("GET  api/v1/things/<uuid:pk>", pk="thing", sees=STAGE, shows="stage")
    line("POST api/v1/things/<uuid:pk>/turn", pk="thing", sees=STAGE, may="lead technician", body={"by": 3})

- `pk` (and any other parameter of the route, by its name) is the name of something in `cast.things`, or a function
  of cast and actor. New things are made by a function under `THINGS` at the foot of this file: put what lies on the
  stage under a name, with `cast.named("stage", "text")` in its texts, so that its canary can be looked for.
- `sees` says for whom it exists: STAGE (own only), PROJECT (own, and near roles of another building of it), FIRM
  (everyone with anything in firm A), EVERYONE (whoever is signed in). All others must get 404.
- `may` names the roles that may, of those who see it: of relation *own* if it is a text, or by relation in a dict.
  Left out on a GET: everyone who sees it. Who sees and may not must get 403 with a reason.
- `ok` is the status of the allowed (200 for GET and PATCH, 201 for POST, 204 for DELETE if left out); `body` the JSON
  of a write, plain or a function of cast; `headers` likewise; `shows` the region whose canary must be in the answer.
- Routes outside of ``api/`` are pages: the browser's session instead of a token, and anonymous is sent to the login.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from tests.cast import ROLES, Actor, Cast

Sight = dict[str, frozenset[str]]

_ALL = frozenset(ROLES)
_BUT_CONTRACTOR = _ALL - {"contractor"}
STAGE: Sight = {"own": _ALL}
PROJECT: Sight = {"own": _ALL, "near": _BUT_CONTRACTOR}
FIRM: Sight = {"own": _ALL, "near": _ALL}
IN_FORCE: Sight = {"own": _ALL, "near": _ALL, "foreign": _ALL}
EVERYONE: Sight = {**IN_FORCE, "revoked": _ALL}

_OK = {"GET": 200, "PATCH": 200, "PUT": 200, "POST": 201, "DELETE": 204}


@dataclass(frozen=True)
class Line:
    method: str
    route: str
    sees: Sight
    may: Sight
    ok: int
    body: Any = None
    content: Callable[[Cast], bytes] | None = None
    content_type: str = "application/json"
    headers: Any = None
    shows: str = ""
    public: bool = False
    params: dict[str, Any] = field(default_factory=dict)

    @property
    def is_page(self) -> bool:
        return not self.route.startswith("api/")

    def expected(self, actor: Actor) -> int:
        if self.public:
            return self.ok
        if actor.relation == "anonymous":
            return 302 if self.is_page else 401
        if actor.role not in self.sees.get(actor.relation, frozenset()):
            return 404
        return self.ok if actor.role in self.may.get(actor.relation, frozenset()) else 403


LINES: list[Line] = []


def line(what: str, **rest: Any) -> None:
    method, _, route = what.partition(" ")
    route = route.strip()
    sees, may, ok = rest.pop("sees"), rest.pop("may", None), rest.pop("ok", None)
    known = {name: rest.pop(name) for name in list(rest) if name in Line.__dataclass_fields__}
    allowed = {"own": frozenset(may.split())} if isinstance(may, str) else may
    LINES.append(
        Line(method, route, sees, sees if allowed is None else allowed, ok or _OK[method], params=rest, **known)
    )


# --- oneself, people ---------------------------------------------------------------------------------------------
line("GET api/v1/openapi.json", sees=EVERYONE, public=True)
line("GET api/v1/me", sees=EVERYONE)
line("GET api/v1/tokens", sees=EVERYONE)
line("POST api/v1/tokens", sees=EVERYONE, body={"label": "phone", "scope": "submit"})
line("DELETE api/v1/tokens/<uuid:pk>", pk=Cast.token_id, sees=EVERYONE)
line("GET api/v1/people", sees=EVERYONE)
line("GET api/v1/memberships", sees=EVERYONE)
line(
    "POST api/v1/memberships",
    sees=STAGE,
    may="lead",
    body=lambda cast: {
        "email": "new@cast.example",
        "name": "New",
        "role": "technician",
        "scope": {"kind": "building", "id": str(cast.things["building"].pk)},
    },
)
line(
    "DELETE api/v1/memberships/<uuid:pk>",  # one in building b2: those named for it see it, the project's do not
    pk="membership",
    sees={"own": frozenset({"lead"}), "near": _BUT_CONTRACTOR},
    may={"own": frozenset({"lead"}), "near": frozenset({"lead"})},
)

# --- firms, projects ---------------------------------------------------------------------------------------------
line("GET api/v1/firms", sees=EVERYONE, shows="a")
line("GET api/v1/firms/<uuid:pk>/owners", pk="firm", sees=FIRM, shows="p1")
line("POST api/v1/firms/<uuid:pk>/owners", pk="firm", sees=FIRM, may="lead", body={"name": "Third owner"})
line("GET api/v1/firms/<uuid:pk>/companies", pk="firm", sees=FIRM, shows="p1")
line(
    "POST api/v1/firms/<uuid:pk>/companies",
    pk="firm",
    sees=FIRM,
    may="lead",
    body={"name": "Controls", "trade": "controls"},
)
line(
    "POST api/v1/firms/<uuid:pk>/projects",
    pk="firm",
    sees=FIRM,
    may="lead",
    body=lambda cast: {"owner": str(cast.things["owner"].pk), "code": "P9", "name": "Ninth"},
)
line("GET api/v1/projects", sees=EVERYONE, shows="p1")
line("GET api/v1/projects/<uuid:pk>", pk="project", sees=PROJECT, shows="p1")
line("PATCH api/v1/projects/<uuid:pk>", pk="project", sees=PROJECT, may="lead", body={"name": "Renamed"})
line("GET api/v1/projects/<uuid:pk>/conventions", pk="project", sees=PROJECT)
line(
    "POST api/v1/projects/<uuid:pk>/conventions",
    pk="project",
    sees=PROJECT,
    may="lead",
    body={"decision_rule": "guarded_acceptance"},
)

# --- instruments -------------------------------------------------------------------------------------------------
_ACCURACY = {"relative": 0.03, "absolute": {"value": 7, "unit": "cfm"}, "shape": "rectangular"}
line("GET api/v1/instruments", sees=EVERYONE, shows="a")
line("GET api/v1/instruments/<uuid:pk>", pk="instrument", sees=FIRM, shows="a")
line(
    "POST api/v1/firms/<uuid:pk>/instruments",
    pk="firm",
    sees=FIRM,
    may="lead",
    body={"name": "Manometer", "kind": "manometer", "serial": "M-2", "accuracy": _ACCURACY},
)
line("GET api/v1/instruments/<uuid:pk>/calibrations", pk="instrument", sees=FIRM, shows="a")
line(
    "POST api/v1/instruments/<uuid:pk>/calibrations",
    pk="instrument",
    sees=FIRM,
    may="lead",
    body={"certificate": "C-2", "on": "2026-02-01", "due": "2027-02-01", "as_found": "within"},
)

# --- places ------------------------------------------------------------------------------------------------------
_SITE = {"name": "North", "time_zone": "America/Denver", "elevation": {"value": 5280, "unit": "ft"}}
line("GET api/v1/projects/<uuid:pk>/sites", pk="project", sees=PROJECT, shows="p1")
line("POST api/v1/projects/<uuid:pk>/sites", pk="project", sees=PROJECT, may="lead", body=_SITE)
line("GET api/v1/sites/<uuid:pk>", pk="site", sees=PROJECT, shows="p1")
line("PATCH api/v1/sites/<uuid:pk>", pk="site", sees=PROJECT, may="lead", body={"elevation": {"value": 0, "unit": "m"}})
line("POST api/v1/sites/<uuid:pk>/buildings", pk="site", sees=PROJECT, may="lead", body={"name": "East"})
line("GET api/v1/buildings", sees=EVERYONE, shows="stage")
line("GET api/v1/buildings/<uuid:pk>", pk="building", sees=STAGE, shows="stage")
line("GET api/v1/buildings/<uuid:pk>/systems", pk="building", sees=STAGE, shows="stage")
line("POST api/v1/buildings/<uuid:pk>/systems", pk="building", sees=STAGE, may="lead", body={"name": "Riser 2"})
line("GET api/v1/buildings/<uuid:pk>/spaces", pk="building", sees=STAGE, shows="stage")
line("POST api/v1/buildings/<uuid:pk>/spaces", pk="building", sees=STAGE, may="lead", body={"name": "Room 2"})
line(
    "POST api/v1/buildings/<uuid:pk>/positions",
    pk="building",
    sees=STAGE,
    may="lead",
    body={"tag": "ERV-2", "kind": "erv"},
)
line("GET api/v1/positions", sees=EVERYONE, shows="stage")
line("GET api/v1/positions/<uuid:pk>", pk="position", sees=STAGE, shows="stage")
line("PATCH api/v1/positions/<uuid:pk>", pk="position", sees=STAGE, may="lead", body={"location": "Attic"})
line("GET api/v1/positions/<uuid:pk>/installations", pk="position", sees=STAGE, shows="stage")
line(
    "POST api/v1/positions/<uuid:pk>/installations",
    pk="position",
    sees=STAGE,
    may="lead",
    body={"serial": "SN-2", "since": "2026-03-01"},
)
line(
    "PATCH api/v1/installations/<uuid:pk>",
    pk="installation",
    sees=STAGE,
    may="lead",
    body={"until": "2026-03-01"},
)


# --- photos ------------------------------------------------------------------------------------------------------
def _photo(_: Cast) -> bytes:
    from tests.portfolio.photographs import jpeg

    return jpeg()


def _photo_hash(cast: Cast, _: Actor) -> str:
    import hashlib

    return hashlib.sha256(_photo(cast)).hexdigest()


line(
    "PUT api/v1/photos/<sha256:sha256>",
    sha256=_photo_hash,
    sees=EVERYONE,
    may=IN_FORCE,
    content=_photo,
    content_type="image/jpeg",
)

# --- what the rooms above put on the stage: functions that are called with the cast before the matrix runs ---------
THINGS: list[Callable[[Cast], None]] = []
