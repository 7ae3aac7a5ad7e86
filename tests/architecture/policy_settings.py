"""The policy's lines for settings that are searched or read from files; see policy.py for what a line means."""

from urllib.parse import urlencode

from commissioning.evidence.mappings import keep_mapping
from commissioning.models import JudgedPosition
from portfolio.blobs.store import keep
from tests.architecture.policy import EVERYONE, FIRM, STAGE, THINGS, line
from tests.architecture.policy_pages import FORM, form
from tests.cast import Cast
from tests.kinds.settings_records import judged, record
from tests.kinds.test_settings_read_from import READ_FROM


def mapping_text(family: str, version: int = 1) -> str:
    head = f'schema = "ventfolio/settings-mapping/1"\nfamily = "{family}"\nversion = {version}\n'
    return f'{head}[[settings]]\nsource = "gain"\nsetting = "supply_gain"\n'


def _on_stage(cast: Cast) -> None:
    """A mapping of the firm, and a file that a record of the stage's unit names."""
    text = mapping_text(cast.named("a", "Tarnbeck")).encode()
    cast.things["mapping"], _ = keep_mapping(firm=cast.things["firm"], person=cast.person("own", "lead"), raw=text)
    file = keep(cast.named("stage", "gain,0.8").encode(), "text/csv")
    cast.things["settings_file"] = file
    given = record()
    given["payload"]["read_from"] = READ_FROM | {"sha256": file.pk}
    JudgedPosition.objects.update_or_create(
        pk=cast.things["position"].pk,
        defaults={
            "inputs_hash": "0" * 64,
            "rules_hash": "0" * 64,
            "judged_at": file.kept_at,
            "measurements": judged(given).measurements,
        },
    )


THINGS.append(_on_stage)

line("GET settings", sees=EVERYONE)
line("GET settings.csv", sees=EVERYONE, ok=400)  # without a question it says what is missing
line("GET api/v1/settings-search", sees=EVERYONE, ok=400)  # without a question it says what is missing

# --- mappings of the firm ----------------------------------------------------------------------------------------
line("GET firms/<uuid:pk>/mappings", pk="firm", sees=FIRM, shows="a")
line(
    "POST firms/<uuid:pk>/mappings",
    pk="firm",
    sees=FIRM,
    may="lead",
    ok=303,
    content=lambda _: urlencode({"pasted": mapping_text("Another")}).encode(),
    content_type=FORM,
)
line("GET mappings/<uuid:pk>", pk="mapping", sees=FIRM, shows="a")
line("GET api/v1/firms/<uuid:pk>/settings-mappings", pk="firm", sees=FIRM, shows="a")
line(
    "POST api/v1/firms/<uuid:pk>/settings-mappings",
    pk="firm",
    sees=FIRM,
    may="lead",
    content=lambda _: mapping_text("Another").encode(),
)

# --- what the firm has of its own --------------------------------------------------------------------------------
for _name, _own in (
    ("own-checks", 'drop = ["level"]'),
    ("own-procedures", 'reword = [{procedure = "frost", step = "air_left", look = "At one door."}]'),
):
    line(f"GET api/v1/firms/<uuid:pk>/{_name}", pk="firm", sees=FIRM)
    line(
        f"PUT api/v1/firms/<uuid:pk>/{_name}",
        pk="firm",
        sees=FIRM,
        may="lead",
        headers={"If-Match": '"0"'},
        content=lambda _, text=_own: text.encode(),
    )
line("GET api/v1/settings-mappings/<uuid:pk>", pk="mapping", sees=FIRM, shows="a")

# --- files of a unit's controller --------------------------------------------------------------------------------
line("GET units/<uuid:pk>/settings/import", pk="position", sees=STAGE, may="lead technician", shows="stage")
line(
    "POST units/<uuid:pk>/settings/import",  # an empty form is given back with what is missing
    pk="position",
    sees=STAGE,
    may="lead technician",
    ok=400,
    content=form(),
    content_type=FORM,
)
line(
    "POST api/v1/positions/<uuid:pk>/settings-file",  # no mapping is named
    pk="position",
    sees=STAGE,
    may="lead technician",
    ok=400,
    content=lambda _: b"gain,0.8",
    content_type="text/csv",
)
line(
    "GET units/<uuid:pk>/settings/files/<sha256:sha256>",
    pk="position",
    sha256=lambda cast, actor: cast.things["settings_file"].pk,
    sees=STAGE,
    shows="stage",
)
