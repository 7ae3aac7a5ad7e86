"""What a technician sends about a controller: the moment, the values by neutral names, its clock, what was seen then.

Passwords, codes of entry and keys are refused by name and by pattern: what is evidence is kept for ever.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, NaiveDatetime, StringConstraints
from pydantic_core import PydanticCustomError

from commissioning.dossier import quantities as q
from commissioning.dossier.envelope import Moment
from commissioning.dossier.faults import CONFIDENTIAL
from commissioning.dossier.field_record import FieldRecord, Text
from commissioning.dossier.settings.catalogue import CATALOGUE, NotASetting, Setting, value_of
from commissioning.dossier.settings.mapping import refuse_in_name
from commissioning.dossier.settings.secrecy import Secret, refuse_name, refuse_text
from commissioning.engineering import units

Seen = Literal["clear", "tripped", "not_seen"]


@dataclass(frozen=True)
class _Named:
    """A value with the name that it stands under."""

    code: str
    given: Any

    def __str__(self) -> str:
        return str(self.given)


def _with_names(given: Any) -> Any:
    return {code: _Named(code, held) for code, held in given.items()} if isinstance(given, Mapping) else given


def _refusing(check: Callable[[Any], Any]) -> Callable[[Any], Any]:
    def checked(given: Any) -> Any:
        try:
            return check(given)
        except NotASetting as no:
            told = {"reason": str(no).replace("{", "(").replace("}", ")"), "remedy": no.remedy}
            code = CONFIDENTIAL if isinstance(no, Secret) else "setting_refused"
            raise PydanticCustomError(code, "{reason}", told) from None

    return checked


def _known(code: str) -> str:
    if code not in CATALOGUE.settings:
        refuse_name(code)
        near = CATALOGUE.nearest(code)
        remedy = f"Perhaps it is {near}." if near else "See docs/schemas for the names; put the rest into the note."
        raise NotASetting("no setting has this name", remedy)
    return code


def _value(named: Any) -> Any:
    """As it was given: the unit is kept. What is of no known name is refused by that already."""
    if isinstance(named.given, str):
        refuse_text(named.given)
    setting = CATALOGUE.settings.get(named.code)
    if setting is not None:
        value_of(setting, named.given)
    return named.given


def _harmless(text: str) -> str:
    refuse_text(text)
    return text


def _named(name: str) -> str:
    refuse_in_name(name)
    return name


def _schema_of(setting: Setting) -> dict[str, Any]:
    kinds: dict[str, dict[str, Any]] = {
        "quantity": {
            "type": "object",
            "properties": {"value": {"type": "number"}, "unit": {"type": "string"}},
            "required": ["value", "unit"],
            "additionalProperties": False,
        },
        "number": {"type": "number", "minimum": setting.least, "maximum": setting.most},
        "whole": {"type": "integer", "minimum": setting.least, "maximum": setting.most},
        "choice": {"type": "string", "enum": list(setting.choices)},
        "yes_no": {"type": "boolean"},
        "text": {"type": "string", "maxLength": 200},
    }
    made = kinds[setting.kind] | {"description": setting.title}
    if setting.kind == "quantity":
        made["x-quantity"] = setting.quantity
        made["x-units"] = list(units.codes_of(setting.quantity))
        made["x-range"] = [setting.least, setting.most, setting.unit]
    return made


Code = Annotated[str, AfterValidator(_refusing(_known))]
Value = Annotated[Any, AfterValidator(_refusing(_value))]
Values = Annotated[
    dict[Code, Value],
    BeforeValidator(_with_names),
    Field(
        min_length=1,
        json_schema_extra={
            "additionalProperties": False,
            "properties": {code: _schema_of(one) for code, one in CATALOGUE.settings.items()},
        },
    ),
]
Family = Annotated[str, StringConstraints(max_length=200), AfterValidator(_refusing(_harmless))]
Note = Annotated[Text, AfterValidator(_refusing(_harmless))]


Said = Annotated[str, StringConstraints(max_length=400), AfterValidator(_refusing(_harmless))]
Called = Annotated[str, StringConstraints(max_length=400), AfterValidator(_refusing(_named))]
Sha256 = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]


class ThroughMapping(q.Closed):
    """The firm's mapping through which names became settings."""

    family: Family
    version: Annotated[int, Field(ge=1)]
    sha256: Sha256


class NotMapped(q.Closed):
    """A name of the controller that the mapping does not know, as it was read."""

    name: Called
    value: Said = ""
    unit: Said = ""


class ReadFrom(q.Closed):
    """Where values that nobody typed come from, by the hash of what was read; and every name that gave no value."""

    file: Called
    sha256: Sha256
    mapping: ThroughMapping
    ignored: Annotated[list[Called], Field(max_length=5000)] = []
    not_set: Annotated[list[Called], Field(max_length=5000)] = []
    unknown: Annotated[list[NotMapped], Field(max_length=5000)] = []


class Now(q.Closed):
    """What was seen when the settings were read: what decides whether it would start."""

    power: Literal["on", "off", "not_seen"] = "not_seen"
    smoke: Seen = "not_seen"
    frost: Seen = "not_seen"
    safeties: Seen = "not_seen"
    contact: Literal["closed", "open", "not_seen"] = "not_seen"
    network_command: Literal["on", "off", "not_seen"] = "not_seen"


class SettingsPayload(FieldRecord):
    """`controller_time` is what the controller's clock shows, `true_time` when that was (else the record's own moment).

    `winter_design_temperature` is outdoors, as the design documents state it. `read_from` is there where the values
    were not typed but came through a firm's mapping (docs/settings-import.md).
    """

    moment: Literal["as_ordered", "as_found", "as_left", "follow_up"]
    controller: Family = ""
    values: Values
    controller_time: Annotated[NaiveDatetime, Field(strict=False)] | None = None
    true_time: Moment | None = None
    winter_design_temperature: q.Temperature | None = None
    now: Now = Now()
    note: Note = ""
    read_from: ReadFrom | None = None
