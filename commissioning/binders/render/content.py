"""The frozen document made easy to draw: looked up once, computed never. What is not in the document is not here."""

from collections import defaultdict
from collections.abc import Mapping
from functools import cached_property
from typing import Any

from commissioning.binders.render.people import with_names
from commissioning.binders.render.words import opening
from commissioning.blocks import Band
from commissioning.dossier.canonical import sha256_hex
from commissioning.dossier.shows import PORTS
from commissioning.judging import RULES, place_of
from commissioning.requirements import design_airflow

WORST_FIRST = (
    "does_not_conform",
    "disputed",
    "inconclusive",
    "recheck",
    "not_judged",
    "not_due",
    "conforms",
    "accepted",
    "not_given",
    "not_counted",
)
Judgement = Mapping[str, Any]


def outcome_of(judgement: Judgement) -> str:
    verdict = judgement["verdict"]
    return str(verdict if verdict is not None else judgement["absence"]["code"])


class Content:
    """`document` is the frozen document without who asked; `hash` the SHA-256 of its bytes."""

    def __init__(self, document: Mapping[str, Any], handed_over: bytes) -> None:
        self.document = document = with_names(document)
        self.hash = sha256_hex(handed_over)
        self.conventions = document["judging"]["conventions"]
        self.display: str = self.conventions.get("display", "si")
        self.units: list[Mapping[str, Any]] = document["units"]
        self.issues: list[Mapping[str, Any]] = document["issues"]

    @cached_property
    def judged(self) -> dict[str, Mapping[str, Any]]:
        return {one["id"]: one for one in self.document["judged"]["positions"]}

    @cached_property
    def given(self) -> dict[str, Mapping[str, Any]]:
        """The positions as judging was given them: with their design."""
        return {one["id"]: one for one in self.document["judging"]["positions"]}

    @cached_property
    def buildings(self) -> dict[str, Mapping[str, Any]]:
        return {one["id"]: one for one in self.document["buildings"]}

    @cached_property
    def instruments(self) -> dict[str, Mapping[str, Any]]:
        return {one["id"]: one for one in self.document["judging"]["instruments"]}

    @cached_property
    def evidence(self) -> dict[str, Mapping[str, Any]]:
        return {one["id"]: one for one in self.document["manifest"]}

    @cached_property
    def evidence_of(self) -> dict[str, list[Mapping[str, Any]]]:
        found: dict[str, list[Mapping[str, Any]]] = defaultdict(list)
        for record in self.document["manifest"]:
            found[record["position"]].append(record)
        return found

    @cached_property
    def issues_of(self) -> dict[str, list[Mapping[str, Any]]]:
        """The issues that speak of a unit, by its position."""
        found: dict[str, list[Mapping[str, Any]]] = defaultdict(list)
        for issue in self.issues:
            for position in dict.fromkeys(check["position"] for check in issue["checks"]):
                found[position].append(issue)
        return found

    @cached_property
    def not_final(self) -> set[str]:
        """Evidence that was sent as final and counts as preliminary."""
        return {
            one["envelope"]
            for held in self.judged.values()
            for one in held["measurements"]
            if "not_final" in one["facts"]
        }

    @cached_property
    def accepted(self) -> set[tuple[str, str, str]]:
        """(position, requirement, port) of what was accepted as it is."""
        return {
            (check["position"], check["requirement"], check["port"])
            for issue in self.issues
            if issue["state"] == "accepted"
            for check in issue["checks"]
        }

    @cached_property
    def photos(self) -> dict[str, list[Mapping[str, Any]]]:
        """Photos by what they belong to."""
        found: dict[str, list[Mapping[str, Any]]] = defaultdict(list)
        for photo in self.document["photos"]:
            found[photo["belongs_to"]].append(photo)
        return found

    def judgements(self, position: str) -> list[Judgement]:
        held = self.judged.get(position)
        return held["judgements"] if held else []

    def measurements(self, position: str) -> list[Mapping[str, Any]]:
        held = self.judged.get(position)
        return held["measurements"] if held else []

    def outcome(self, position: str, judgement: Judgement) -> str:
        is_accepted = (position, judgement["requirement"], judgement["port"]) in self.accepted
        return "accepted" if is_accepted else outcome_of(judgement)

    def worst(self, position: str) -> str:
        """The worst outcome of a unit: what has no limit does not count as one."""
        found = [self.outcome(position, one) for one in self.judgements(position)]
        return min(found or ["not_judged"], key=lambda code: WORST_FIRST.index(code) if code in WORST_FIRST else 0)

    def band(self, position: str, port: str) -> Band | None:
        for one in self.judgements(position):
            if one["requirement"] == design_airflow.CODE and one["port"] == port:
                return design_airflow.band(one)
        return None

    def worst_band(self, position: str) -> Band | None:
        """The band of the port that is furthest from where it should be."""
        drawn = [
            one
            for one in self.judgements(position)
            if one["requirement"] == design_airflow.CODE and one["verdict"] is not None
        ]
        worst = min(drawn, key=lambda one: (WORST_FIRST.index(one["verdict"]), one["margin"]), default=None)
        return design_airflow.band(worst) if worst else None


def where_of(judgement: Mapping[str, Any]) -> str:
    """Of which air, fan or test it is; of none, the unit as a whole.

    >>> where_of({"requirement": "motor_current", "port": "supply"}), where_of({"requirement": "started", "port": ""})
    ('Supply fan', 'The unit')
    """
    return opening(place_of(judgement["port"], [judgement["requirement"]])) or PORTS[""]


def title_of(requirement: str) -> str:
    rule = RULES.get(requirement)
    return rule.TITLE if rule else requirement.replace("_", " ")
