"""Which expectations are asked of a log, with which numbers and where each comes from. Data; a firm may change it."""

from collections.abc import Iterable, Iterator, Mapping
from typing import Annotated, Literal

from pydantic import Field, StringConstraints, model_validator

from commissioning.dossier import quantities as q
from commissioning.dossier.settings.catalogue import Plain
from commissioning.dossier.trends.kind import Limit, Week
from commissioning.dossier.trends.kinds import KINDS

Word = Annotated[str, StringConstraints(pattern=r"^[a-z0-9_]{0,60}$")]
Text = Annotated[str, StringConstraints(max_length=200)]
Hour = Annotated[float, Field(ge=0.0, le=24.0)]


class Weekly(q.Closed):
    """Days from Monday, 0, to Sunday, 6. A period that ends at or before its begin goes past midnight."""

    days: Annotated[list[Annotated[int, Field(ge=0, le=6)]], Field(max_length=7)]
    from_h: Hour
    to_h: Hour
    source: Text = ""


class Asked(q.Closed):
    """One expectation. `limits` in SI by name, `sources` where each comes from."""

    code: Word
    at: Word = ""
    limits: dict[Word, q.Number] = {}
    sources: dict[Word, Text] = {}

    @model_validator(mode="after")
    def _known(self) -> "Asked":
        kind = KINDS.get(self.code)
        if kind is None:
            raise ValueError(f"no expectation is called {self.code}; there are {', '.join(KINDS)}")
        if self.at not in kind.ats:
            raise ValueError(
                f"{self.code} is asked of {', '.join(one or 'the unit' for one in kind.ats)}, not of {self.at}"
            )
        if set(self.limits) != set(kind.limits):
            raise ValueError(f"{self.code} has these limits and no others: {', '.join(kind.limits) or 'none'}")
        return self


class Plan(q.Closed):
    """`schedule` is when the unit is to run; None where nobody said."""

    form: Literal["ventfolio/trend-plan/1"] = "ventfolio/trend-plan/1"
    zone: Annotated[str, StringConstraints(max_length=64)] = "UTC"
    schedule: Weekly | None = None
    asked: Annotated[list[Asked], Field(max_length=400)]

    @property
    def week(self) -> Week | None:
        one = self.schedule
        return Week(tuple(one.days), one.from_h, one.to_h) if one else None


def default_plan(roles: Iterable[str], values: Mapping[str, Plain] | None = None, zone: str = "UTC") -> Plan:
    """All that the roles of a log allow to ask, with limits from the settings as left where they were read."""
    held, read = set(roles), values or {}
    schedule = _schedule(read)
    return Plan(zone=zone, schedule=schedule, asked=list(_asked(held, read, by_week=schedule is not None)))


def _asked(roles: set[str], values: Mapping[str, Plain], *, by_week: bool) -> Iterator[Asked]:
    for kind in KINDS.values():
        if kind.by_week and not by_week:
            continue
        if any(code in values and values[code] not in words for code, words in kind.when.items()):
            continue
        limits = {name: _limit(limit, values) for name, limit in kind.limits.items()}
        known = {name: found for name, found in limits.items() if found is not None}
        if len(known) < len(limits):
            continue
        for at in kind.ats:
            if kind.fits(at, roles):
                yield Asked(
                    code=kind.code,
                    at=at,
                    limits={name: value for name, (value, _) in known.items()},
                    sources={name: source for name, (_, source) in known.items()},
                )


def _limit(limit: Limit, values: Mapping[str, Plain]) -> tuple[float, str] | None:
    held = values.get(limit.setting) if limit.setting else None
    if isinstance(held, float):
        return held, f"setting {limit.setting}"
    return None if limit.default is None else (limit.default, limit.source)


def _schedule(values: Mapping[str, Plain]) -> Weekly | None:
    """Hours as set. Which days they are is told by no setting: seven are all, five are taken as Monday to Friday."""
    begin, end, days = (values.get(code) for code in ("occupied_from", "occupied_to", "occupied_days"))
    if not isinstance(begin, float) or not isinstance(end, float) or days not in (5, 7):
        return None
    if values.get("enabling", "schedule") != "schedule":
        return None
    whole = days == 7
    return Weekly(
        days=list(range(7 if whole else 5)),
        from_h=begin / 3600.0,
        to_h=end / 3600.0,
        source="settings occupied_from and occupied_to" + ("" if whole else "; five days taken as Monday to Friday"),
    )
