"""What is sent of a checklist: answers to some of its items, releases and lifts of holds, sign-offs of companies."""

from typing import Annotated, ClassVar, Literal

from pydantic import AfterValidator, Field, StringConstraints, model_validator

from commissioning.catalogue.checks import CATALOGUE, Item
from commissioning.catalogue.units import VOCABULARY
from commissioning.dossier import quantities as q
from commissioning.dossier.field_record import Claim, FieldRecord, Line, Session
from commissioning.dossier.own_equipment import OWN_ID
from commissioning.engineering import units

Named = Annotated[str, StringConstraints(min_length=2, max_length=200, strip_whitespace=True)]
Reasoned = Annotated[str, StringConstraints(min_length=10, max_length=1000, strip_whitespace=True)]
Note = Annotated[str, StringConstraints(max_length=1000)]
Hash = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
Trade = Literal["mechanical", "electrical", "controls", "fire_alarm", "balancing", "general"]


def _known(id: str) -> str:
    """Of the catalogue; what is a firm's own is looked at when it is judged, by the firm's version."""
    if id not in CATALOGUE.items and not OWN_ID.fullmatch(id):
        raise ValueError(f"no item of the checklist is called {id}")
    return id


def _trade(id: str) -> str:
    """Empty for a firm's own item: the server knows its trade."""
    return CATALOGUE.items[id].trade if id in CATALOGUE.items else ""


ItemId = Annotated[str, AfterValidator(_known)]


class Cannot(q.Closed):
    """Why there is no answer yet, and who unblocks it: by trade, by company, or as the reason usually is."""

    reason: Literal["no_power", "no_access", "ceiling_open", "controls_not_ready", "other"]
    trade: Trade | None = None
    company: Line = ""

    @model_validator(mode="after")
    def _somebody_unblocks_it(self) -> "Cannot":
        if not self.unblocked_by and not self.company.strip():
            raise ValueError("for another reason say who unblocks it: a trade or a company")
        return self

    @property
    def unblocked_by(self) -> str:
        return self.trade or VOCABULARY.reasons[self.reason].trade


class Answer(q.Closed):
    """Exactly one of `yes`, `number`, `choice`, photos alone, or `cannot`: as the item asks."""

    item: ItemId
    yes: bool | None = None
    number: q.Quantity | None = None
    choice: Line | None = None
    cannot: Cannot | None = None
    photos: Annotated[list[Hash], Field(max_length=10)] = []
    note: Note = ""

    @model_validator(mode="after")
    def _as_the_item_asks(self) -> "Answer":
        asked = CATALOGUE.items.get(self.item)
        fault = fault_of(self, asked) if asked else ""
        if fault:
            raise ValueError(fault)
        return self


def fault_of(answer: Answer, asked: Item) -> str:
    """Why an answer is none to the item; empty where it is one."""
    given = [name for name in ("yes", "number", "choice", "cannot") if getattr(answer, name) is not None]
    if given == ["cannot"]:
        return ""
    wanted = {"yes_no": ["yes"], "number": ["number"], "choice": ["choice"], "photo": []}[asked.answer]
    if given != wanted:
        what = {"yes_no": "`yes`: true or false", "photo": "`photos`"}.get(asked.answer, f"a `{asked.answer}`")
        return f"the item {asked.id} is answered by {what}, or by `cannot`, and by one of them"
    if asked.answer == "photo" and not answer.photos:
        return f"the item {asked.id} is answered by a photo, and there is none"
    if answer.choice is not None and answer.choice not in asked.choices:
        return f"the item {asked.id} has the choices {'; '.join(asked.choices)}"
    if answer.number is not None:
        try:
            q.check(units.unit(asked.unit).quantity, 0.0, 1e6, [answer.number.value], answer.number.unit)
        except ValueError as error:
            return str(error)
    return ""


class Release(q.Closed):
    """A safety hold released by who may: the installing contractor, or a person licensed for it. Nobody else may."""

    item: ItemId
    by: Literal["installing_contractor", "licensed_person"]
    company: Named
    person: Named
    licence: Line = ""
    on: q.Day
    note: Note = ""

    @model_validator(mode="after")
    def _may_release(self) -> "Release":
        known = CATALOGUE.items.get(self.item)
        if known is not None and known.hold != "safety":
            raise ValueError(f"the item {self.item} holds nothing back for safety: there is nothing to release")
        if self.by == "licensed_person" and not self.licence.strip():
            raise ValueError("a licensed person's release names the licence")
        return self


class Lift(q.Closed):
    """A quality hold lifted by the lead, with the reason as it will be printed."""

    item: ItemId
    by: Named
    reason: Reasoned
    on: q.Day

    @model_validator(mode="after")
    def _may_be_lifted(self) -> "Lift":
        known = CATALOGUE.items.get(self.item)
        hold = known.hold if known else "quality"  # of a firm's own item: as its version says, when it is judged
        if hold == "safety":
            raise ValueError(f"the item {self.item} is a safety hold: only a recorded release lifts it")
        if hold != "quality":
            raise ValueError(f"the item {self.item} holds nothing back: it is answered again once it is mended")
        return self


class SignOff(q.Closed):
    """A company's authorised person says that the items of its trade on this unit are complete."""

    trade: Trade
    company: Named
    person: Named
    on: q.Day
    note: Note = ""

    @model_validator(mode="after")
    def _may_sign(self) -> "SignOff":
        if self.trade not in VOCABULARY.signing:
            known = ", ".join(VOCABULARY.signing)
            raise ValueError(f"the trade {self.trade} signs nothing; those that sign are {known}")
        return self


class ChecklistPayload(FieldRecord):
    """Looking changes nothing at the unit, and an answer stands until the next one: the frame has its usual values."""

    stage: Literal["preliminary", "final"] = "final"
    session: Session = Session(id="checklist", purpose="verification")
    grade: Literal["measured", "witnessed", "transcribed", "controller"] = "witnessed"
    answers: Annotated[list[Answer], Field(max_length=300)] = []
    releases: Annotated[list[Release], Field(max_length=100)] = []
    lifts: Annotated[list[Lift], Field(max_length=100)] = []
    signoffs: Annotated[list[SignOff], Field(max_length=10)] = []
    company: Line = ""  # of the contractor whose word this is; left empty by those who commission

    submitted_by: ClassVar[str] = "answer_checklist"

    @property
    def verbs(self) -> dict[str, str]:
        lifts = {"/payload/lifts": "lift_hold"} if self.lifts else {}
        return lifts | ({"/payload/signoffs": "sign_off"} if self.signoffs else {})

    @property
    def on_behalf_of(self) -> str:
        return self.company.strip()

    @property
    def claims(self) -> list[Claim]:
        at = "/payload/{}/{}".format
        found = [Claim(at("answers", n), one.item, _trade(one.item)) for n, one in enumerate(self.answers)]
        for n, given in enumerate(self.releases):
            found.append(Claim(at("releases", n), given.item, _trade(given.item), given.company))
        for n, signed in enumerate(self.signoffs):
            found.append(Claim(at("signoffs", n), signed.trade, signed.trade, signed.company))
        return found

    @model_validator(mode="after")
    def _each_once(self) -> "ChecklistPayload":
        if not (self.answers or self.releases or self.lifts or self.signoffs):
            raise ValueError("nothing is answered in it; give an answer, a release, a lift or a sign-off")
        held: dict[str, list[str]] = {
            "answered": [one.item for one in self.answers],
            "released": [one.item for one in self.releases],
            "lifted": [one.item for one in self.lifts],
            "signed off": [one.trade for one in self.signoffs],
        }
        for what, ids in held.items():
            twice = sorted({id for id in ids if ids.count(id) > 1})
            if twice:
                raise ValueError(f"in one record {', '.join(twice)} is {what} twice; send what holds")
        return self


def facts(payload: ChecklistPayload) -> tuple[bool, str]:
    """An answer is always one; lists show no session, since it belongs to none."""
    return True, ""
