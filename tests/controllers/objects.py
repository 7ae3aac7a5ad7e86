"""The objects of the simulated controller: an invented ventilation unit's, sixty and more."""

from typing import Any

from bacpypes3.basetypes import EngineeringUnits, Reliability, StatusFlags
from bacpypes3.constructeddata import AnyAtomic
from bacpypes3.local.device import DeviceObject
from bacpypes3.object import (
    AnalogInputObject,
    AnalogValueObject,
    BinaryInputObject,
    BinaryValueObject,
    CharacterStringValueObject,
    IntegerValueObject,
    MultiStateValueObject,
    PositiveIntegerValueObject,
    ScheduleObject,
)
from bacpypes3.primitivedata import Unsigned

DEVICE = 1234
WELL = {"statusFlags": StatusFlags([0, 0, 0, 0]), "reliability": Reliability("no-fault-detected")}

# number: name, value, unit in the standard's word
ANALOG_VALUES: dict[int, tuple[str, float, str]] = {
    1: ("Supply flow setpoint", 1000.0, "cubic-feet-per-minute"),
    2: ("Supply flow least", 400.0, "cubic-feet-per-minute"),
    3: ("Supply flow most", 1000.0, "cubic-feet-per-minute"),
    4: ("Exhaust to supply", 90.0, "percent"),
    5: ("Exhaust flow least", 350.0, "cubic-feet-per-minute"),
    6: ("Exhaust flow most", 950.0, "cubic-feet-per-minute"),
    7: ("Room CO2 setpoint", 900.0, "parts-per-million"),
    8: ("CO2 low", 800.0, "parts-per-million"),
    9: ("CO2 high", 1000.0, "parts-per-million"),
    10: ("Flow at CO2 low", 400.0, "cubic-feet-per-minute"),
    11: ("Flow at CO2 high", 1000.0, "cubic-feet-per-minute"),
    12: ("Duct pressure setpoint", 0.75, "inches-of-water"),
    13: ("Frost limit", 28.4, "degrees-fahrenheit"),
    14: ("Heating setpoint", 68.0, "degrees-fahrenheit"),
    15: ("Damper delay", 90.0, "seconds"),
    16: ("Proof delay", 30.0, "seconds"),
    17: ("Supply gain", 0.8, "no-units"),
    18: ("Supply integral time", 60.0, "seconds"),
    19: ("Filter alarm", 1.1, "inches-of-water"),
    20: ("Ventilation floor", 400.1, "cubic-feet-per-minute"),
}
ANALOG_INPUTS = {n: (f"Input {n}", 20.0 + n, "degrees-celsius") for n in range(1, 13)}
BINARY_VALUES = {n: (f"Option {n}", n % 2) for n in range(1, 13)}
BINARY_INPUTS = {n: (f"Contact {n}", 0) for n in range(1, 7)}
MULTI_STATES = {
    1: ("Enabled by", 2, ["Local", "Schedule", "Network", "Contact"]),
    2: ("Supply mode", 6, ["Speed", "Flow", "Duct", "Space", "CO2", "Flow by CO2", "VOC"]),
    3: ("Exhaust mode", 6, ["Speed", "Flow", "Duct", "Space", "Ratio of speed", "Ratio of flow"]),
    4: ("Frost action", 3, ["None", "Stop supply", "Slow supply"]),
    5: ("Smoke action", 1, ["Stop both", "Run on"]),
}


def analog_value(number: int, value: float | None = None, unit: str = "", called: str = "", **changes: Any) -> Any:
    name, held, stated = ANALOG_VALUES[number]
    return AnalogValueObject(
        objectIdentifier=("analog-value", number),
        objectName=called or name,
        presentValue=held if value is None else value,
        units=EngineeringUnits(unit or stated),
        **{**WELL, **changes},
    )


def device(number: int = DEVICE) -> Any:
    told = {"objectName": f"Controller {number}", "vendorIdentifier": 999, "vendorName": "Tarnbeck", "modelName": "T2"}
    return DeviceObject(objectIdentifier=("device", number), **told)


def controller(*instead: Any) -> list[Any]:
    """All but the device itself. `instead` stand in the place of objects of the same name."""
    made = [analog_value(n) for n in ANALOG_VALUES]
    for n, (name, value, unit) in ANALOG_INPUTS.items():
        made.append(
            AnalogInputObject(
                objectIdentifier=("analog-input", n),
                objectName=name,
                presentValue=value,
                units=EngineeringUnits(unit),
                **WELL,
            )
        )
    for kind, held in ((BinaryValueObject, BINARY_VALUES), (BinaryInputObject, BINARY_INPUTS)):
        kind_name = "binary-value" if kind is BinaryValueObject else "binary-input"
        for n, (name, active) in held.items():
            made.append(kind(objectIdentifier=(kind_name, n), objectName=name, presentValue=active, **WELL))
    for n, (name, value, texts) in MULTI_STATES.items():
        made.append(
            MultiStateValueObject(
                objectIdentifier=("multi-state-value", n),
                objectName=name,
                presentValue=value,
                numberOfStates=len(texts),
                stateText=texts,
                **WELL,
            )
        )
    made += [
        CharacterStringValueObject(
            objectIdentifier=("characterstring-value", 1), objectName="Zone", presentValue="America/Chicago", **WELL
        ),
        PositiveIntegerValueObject(
            objectIdentifier=("positive-integer-value", 1), objectName="Days", presentValue=5, **WELL
        ),
        IntegerValueObject(objectIdentifier=("integer-value", 1), objectName="Offset", presentValue=-3, **WELL),
    ]
    made += [_schedule(n) for n in range(1, 4)]
    named = {str(one.objectIdentifier): one for one in instead}
    return [named.get(str(one.objectIdentifier), one) for one in made]


def _schedule(number: int) -> Any:

    return ScheduleObject(
        objectIdentifier=("schedule", number),
        objectName=f"Week {number}",
        presentValue=AnyAtomic(Unsigned(2)),
        **WELL,
    )
