"""Rules over a unit's address on a network and those of the other units of its site that were read."""

from collections.abc import Sequence

from commissioning.dossier.settings.neighbours import Neighbour
from commissioning.dossier.settings.rules import Case, Rule

BACNET = "ANSI/ASHRAE 135, from memory"
ANY_DEVICE = 4194303.0  # E12 tells of it
_OVER_IP = ("bacnet_ip", "modbus_tcp", "other")
_ONE_WIRE = ("bacnet_mstp", "modbus_serial")


def _asked(case: Case) -> bool:
    return case.others is not None


def _of_bacnet(protocol: str) -> bool:
    """What was not read may be."""
    return protocol in ("", "bacnet_ip", "bacnet_mstp")


def _same_instance(case: Case) -> Sequence[Neighbour]:
    instance = case.values.get("device_instance")
    if instance == ANY_DEVICE or not _of_bacnet(case.word("network_protocol")):
        return ()
    return [
        one for one in case.others or () if one.values.get("device_instance") == instance and _of_bacnet(one.protocol)
    ]


def _same_address(case: Case) -> Sequence[Neighbour]:
    """On one wire a protocol has each address once; which units hang on one wire is not known here."""
    address, protocol = case.values.get("network_address"), case.word("network_protocol")
    return [
        one
        for one in case.others or ()
        if one.values.get("network_address") == address and one.protocol in ("", protocol)
    ]


def _same_internet_address(case: Case) -> Sequence[Neighbour]:
    address = case.word("internet_address").strip()
    return [one for one in case.others or () if str(one.values.get("internet_address", "")).strip() == address]


RULES = (
    Rule(
        "E07", "will_not_run", "Another unit of this site has its device instance, which names one device only of all "
        "networks that are joined: what is written to one may reach the other.",
        "Give each the instance of the controls drawings, then see which of them the building's network finds.",
        ("device_instance",), lambda case: bool(_same_instance(case)),
        lambda case: _asked(case) and _of_bacnet(case.word("network_protocol")),
        f"{BACNET}, clause 12 (the device object's identifier)", _same_instance,
    ),
    Rule(
        "E08", "look", "Another unit of this site has its network address, which is one device's on one wire.",
        "See on the controls drawings whether both hang on one wire; if so, give one of them another address.",
        ("network_protocol", "network_address"), lambda case: bool(_same_address(case)),
        lambda case: _asked(case) and case.is_one("network_protocol", "", *_ONE_WIRE),
        f"{BACNET}, clauses 6 and 9 (an address belongs to one segment)", _same_address,
    ),
    Rule(
        "E09", "look", "Another unit of this site has its internet address.",
        "See on the controls drawings whether both hang on one network; if so, give one of them another address.",
        ("internet_address",), lambda case: bool(_same_internet_address(case)),
        lambda case: _asked(case) and case.is_one("network_protocol", "", *_OVER_IP),
        others=_same_internet_address,
    ),
)  # fmt: skip
