"""What the exchanger form asks, in the order of the work, with what was read before beside it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from commissioning.dossier import exchanger_words as words
from commissioning.dossier import printing
from commissioning.engineering import units
from commissioning.pages.field_sheet import UNITS

ROLES = {
    "outdoor": "Outdoor air, before the exchanger",
    "supply": "Supply air, after the exchanger",
    "return": "Return air, before the exchanger",
    "exhaust": "Exhaust air, after the exchanger",
}
STREAMS = ("supply", "exhaust")
READS, MOISTS, TURNS = 4, 2, 3
HUMIDITIES = {"relative_humidity": "relative humidity", "wet_bulb": "wet bulb", "dew_point": "dew point"}
FROST = {"none": "none", "seen": "on the exchanger", "defrosting": "it is defrosting", "not_seen": "not seen"}
COILS = {"none": "none", "off": "off", "on": "at work", "not_seen": "not seen"}
POSITIONS = {
    "before_exchanger": "before the exchanger, after the sensor",
    "after_exchanger": "after the exchanger, before the sensor",
    "none": "not between the sensors",
    "not_seen": "not seen",
}
WHEEL = {"full_speed": "at full speed", "modulating": "turned down", "not_seen": "not seen"}
GASES = {"tracer_gas": "tracer gas", "room_co2": "CO2 of the rooms"}
SEALS = {
    "supply_minus_return": "Supply less return air, at the wheel",
    "outdoor_minus_exhaust": "Outdoor less exhaust air, at the wheel",
}
BASES = {"standard": "standard air", "actual": "actual air"}
FURTHER = {"barometer": {"ip": "inHg", "si": "hPa"}}
_WHEN = ("first", "second", "third", "last")


@dataclass(frozen=True)
class Box:
    """A number to be typed, with its unit inside and what was there before."""

    name: str
    label: str
    unit: str
    held: str
    before: str = ""
    signed: bool = False


@dataclass(frozen=True)
class Choice:
    """One word of a few."""

    name: str
    legend: str
    options: list[tuple[str, str]]
    held: str


@dataclass(frozen=True)
class Tool:
    """An instrument of the firm's list."""

    name: str
    label: str
    held: str
    tool: bool = True


@dataclass(frozen=True)
class Line:
    """A name to be typed."""

    name: str
    label: str
    held: str
    line: bool = True


Item = Box | Choice | Tool | Line


@dataclass(frozen=True)
class _Asking:
    display: str
    typed: Mapping[str, str]

    def unit(self, quantity: str) -> str:
        return units.unit(UNITS[quantity][self.display]).label

    def box(
        self, name: str, label: str, unit: str, before: str = "", *, signed: bool = False, default: str = ""
    ) -> Box:
        return Box(name, label, unit, self.typed.get(name, default), before, signed)

    def choice(self, name: str, legend: str, options: Mapping[str, str], default: str) -> Choice:
        return Choice(name, legend, list(options.items()), self.typed.get(name) or default)

    def tool(self, name: str, label: str) -> Tool:
        return Tool(name, label, self.typed.get(name, ""))

    def line(self, name: str, label: str) -> Line:
        return Line(name, label, self.typed.get(name, ""))


def sections(
    design: Mapping[str, Any], before: Mapping[str, Any] | None, display: str, typed: Mapping[str, str]
) -> Iterator[dict[str, Any]]:
    """Title, hint and items, in the order of the work."""
    ask = _Asking(display, typed)
    exchangers = sorted(design.get("exchangers", {})) or ["core"]
    yield _section("Instruments", "", _instruments(ask, exchangers))
    hint = "Wait until the entering air stands still. Read all four, then again after five minutes, four times in all."
    yield _section("The air on the four sides", hint, [*_common(ask), *_stations(ask, before)])
    yield _section("At the exchanger", "", _state(ask))
    hint = "A fan between a sensor and the exchanger warms the air: by pressure rise and efficiency, or by its power."
    yield _section("Fans between the sensors", hint, _fans(ask))
    hint = "Read within the same minutes as the air. With its own ± where that is known, else with the instrument."
    yield _section("Airflows during the test", hint, _flows(ask, before))
    if _may_be_wheel(design, exchangers):
        hint = "Count the turns of a mark on the rim over a minute or more, from outside. Keep hands and clothing away."
        yield _section("The wheel", hint, _wheel(ask, before))
        hint = "Both hoses of one gauge, with its sign: above zero the supply side stands higher."
        yield _section("Pressures at the seals", hint, _seals(ask, before))
    hint = (
        "Only a gas released into the return air tells what is carried over; the CO2 of the rooms is kept, not judged."
    )
    yield _section("Gas", hint, _gas(ask))
    hint = (
        "For information: what it recovers for the power that it takes. Both drops over the exchanger, filters and "
        "coils left out, read at the airflows of the test."
    )
    yield _section("What it costs", hint, _cost(ask))


def _section(title: str, hint: str, items: list[Item]) -> dict[str, Any]:
    return {"title": title, "hint": hint, "items": items}


def _may_be_wheel(design: Mapping[str, Any], names: list[str]) -> bool:
    kinds = {(design.get("exchangers", {}).get(name) or {}).get("kind") for name in names}
    return bool(kinds & {"wheel", "other", None})


def _instruments(ask: _Asking, exchangers: list[str]) -> list[Item]:
    found: list[Item] = []
    if len(exchangers) > 1:
        found.append(ask.choice("exchanger", "Which exchanger", {name: name for name in exchangers}, exchangers[0]))
    found.append(ask.tool("thermometer", "Dry bulb is read with"))
    found.append(ask.tool("hygrometer", "Humidity is read with, where another"))
    return found


def _common(ask: _Asking) -> list[Item]:
    label = units.unit(FURTHER["barometer"][ask.display]).label
    return [
        ask.choice("humidity_by", "Humidity is read as", HUMIDITIES, "relative_humidity"),
        ask.box("barometer", "Barometer, where it is read", label),
    ]


def _stations(ask: _Asking, before: Mapping[str, Any] | None) -> list[Item]:
    earlier = before["facts"]["stations"] if before else {}
    is_relative = ask.typed.get("humidity_by", "") in ("", "relative_humidity")
    moist = "%" if is_relative else ask.unit("temperature")
    found: list[Item] = []
    for role, said in ROLES.items():
        seen = earlier.get(role)
        told = words.temperature(seen["read_c"], ask.display) if seen else ""
        for number in range(1, READS + 1):
            label = f"{said}: dry bulb, {_WHEN[number - 1]}"
            shown = told if number == 1 else ""
            found.append(ask.box(f"{role}-t-{number}", label, ask.unit("temperature"), shown, signed=True))
        for number in range(1, MOISTS + 1):
            label = f"{said}: humidity, {('first', 'last')[number - 1]}"
            shown = seen["humidity_read"] if seen and number == 1 else ""
            found.append(ask.box(f"{role}-h-{number}", label, moist, shown, signed=moist != "%"))
        found.append(ask.tool(f"{role}-thermometer", f"{said}: with another instrument"))
    return [*found, ask.box("minutes", "From the first reading to the last", "min")]


def _state(ask: _Asking) -> list[Item]:
    return [
        ask.choice("frost", "Frost", FROST, "not_seen"),
        ask.choice("coil_between", "Coil or heater between a sensor and the exchanger", COILS, "not_seen"),
    ]


def _fans(ask: _Asking) -> list[Item]:
    found: list[Item] = []
    for stream in STREAMS:
        name = f"fan-{stream}"
        found += [
            ask.choice(name, f"The {stream} fan stands", POSITIONS, "not_seen"),
            ask.box(f"{name}-pressure", f"Pressure rise of the {stream} fan", ask.unit("pressure")),
            ask.box(f"{name}-efficiency", f"Efficiency of the {stream} fan with drive and motor", "%"),
            ask.box(f"{name}-power", f"Or: power that the {stream} fan draws", "W"),
            ask.box(f"{name}-share", "Of it ends in the air", "%", default="100"),
        ]
    return found


def _flows(ask: _Asking, before: Mapping[str, Any] | None) -> list[Item]:
    earlier = _figures(before, "standard_airflow")
    found: list[Item] = [
        ask.choice("flow_basis", "They are", BASES, "standard"),
        ask.tool("flow_meter", "Read with, where no ± is given"),
    ]
    for port in ("supply", "return", "outdoor", "exhaust"):
        one = earlier.get(port)
        told = f"{printing.airflow(one['value'], ask.display)} as standard air" if one else ""
        found.append(ask.box(f"flow-{port}", f"{port.capitalize()} airflow", ask.unit("airflow"), told))
        found.append(ask.box(f"flow-{port}-wide", f"± of the {port} airflow (k = 2)", ask.unit("airflow")))
    return found


def _wheel(ask: _Asking, before: Mapping[str, Any] | None) -> list[Item]:
    one = _figures(before, "wheel_speed").get("")
    told = f"{one['value']:.3g}" if one else ""
    return [
        ask.choice("wheel_control", "The wheel is commanded", WHEEL, "not_seen"),
        ask.tool("counter", "Its turns are counted with"),
        *(
            ask.box(f"wheel-{n}", f"Turns, {_WHEN[n - 1]} count", "rpm", told if n == 1 else "")
            for n in range(1, TURNS + 1)
        ),
    ]


def _seals(ask: _Asking, before: Mapping[str, Any] | None) -> list[Item]:
    earlier = _figures(before, "seal_pressure")
    found: list[Item] = [ask.tool("gauge", "Read with")]
    for name, said in SEALS.items():
        one = earlier.get(name.partition("_")[0])
        told = words.number(one, one["value"], ask.display) if one else ""
        found.append(ask.box(f"seal-{name}", said, ask.unit("pressure"), told, signed=True))
    return found


def _gas(ask: _Asking) -> list[Item]:
    return [
        ask.choice("gas_kind", "It is", GASES, ""),
        ask.line("gas", "Which gas"),
        ask.tool("analyser", "Read with"),
        ask.box("gas-background", "Outdoors, before the release", "ppm"),
        *(ask.box(f"gas-{role}", f"{role.capitalize()} air", "ppm") for role in ROLES),
    ]


def _cost(ask: _Asking) -> list[Item]:
    found: list[Item] = [ask.tool("drop_gauge", "Drops are read with")]
    for stream in STREAMS:
        found.append(ask.box(f"drop-{stream}", f"Pressure drop of the {stream} stream", ask.unit("pressure")))
        label = f"Efficiency of the {stream} fan with drive and motor, where it is not given above"
        found.append(ask.box(f"drop-{stream}-efficiency", label, "%"))
    return [*found, ask.box("drive", "Power of the wheel's motor or the loop's pump", "W")]


def _figures(before: Mapping[str, Any] | None, name: str) -> dict[str, Any]:
    return {one["at"]: one for one in (before["figures"] if before else ()) if one["name"] == name}
