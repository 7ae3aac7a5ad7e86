"""What a schedule was understood as: rows of design, columns, tables, errors, remarks, questions.

Every value keeps the cell that it comes from and the text as it is written there, so that a page can show both and a
reader can open the file at that place.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from portfolio.schedules.reading.cells import Address, ScheduleError

PORTS = ("supply", "return", "outdoor", "exhaust")
FANS = ("supply", "exhaust")

RECOGNISED = "recognised"
CHOSEN = "chosen"
NOT_UNDERSTOOD = "not understood"


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with its unit code, where it is written, and the text there."""

    value: float
    unit: str
    at: Address
    text: str


@dataclass(frozen=True, slots=True)
class Written:
    """A text and where it is written."""

    text: str
    at: Address


@dataclass(frozen=True, slots=True)
class NotGiven:
    """A field that the schedule names and expressly leaves open: `-`, `N/A`, `SEE NOTE 3`, `BY OTHERS`."""

    text: str
    at: Address
    why: str


@dataclass(frozen=True, slots=True)
class Note:
    """A footnote: its number as written ('' for a general one), its text, where it stands."""

    number: str
    text: str
    at: Address


@dataclass(frozen=True, slots=True)
class ScopeWord:
    """A word about scope: `code` is one of added, deleted, deferred, by_others, existing, out_of_scope."""

    code: str
    text: str
    at: Address


@dataclass(frozen=True, slots=True)
class AirBasis:
    """What air the flows count: `code` is 'standard', 'actual' or 'not stated'; where that is said."""

    code: str
    text: str
    at: Address
    density: Quantity | None = None
    elevation: Quantity | None = None


@dataclass(frozen=True, slots=True)
class PortDesign:
    airflow: Quantity | None = None
    minimum: Quantity | None = None
    static_pressure: Quantity | None = None
    total_static_pressure: Quantity | None = None


@dataclass(frozen=True, slots=True)
class FanDesign:
    motor_power: Quantity | None = None
    brake_power: Quantity | None = None
    speed: Quantity | None = None
    max_speed: Quantity | None = None
    motor_speed: Quantity | None = None
    volts: Quantity | None = None
    phases: Quantity | None = None
    hertz: Quantity | None = None
    amps: Quantity | None = None
    service_factor: Quantity | None = None
    motors: Quantity | None = None
    drive: Written | None = None
    motor_type: Written | None = None
    variable_speed: Written | None = None


@dataclass(frozen=True, slots=True)
class ExchangerDesign:
    """Ratings of the exchanger; a rating without a season is in the field without one."""

    sensible: Quantity | None = None
    sensible_summer: Quantity | None = None
    sensible_winter: Quantity | None = None
    latent: Quantity | None = None
    latent_summer: Quantity | None = None
    latent_winter: Quantity | None = None
    total: Quantity | None = None
    total_summer: Quantity | None = None
    total_winter: Quantity | None = None
    eatr: Quantity | None = None
    oacf: Quantity | None = None
    supply_pressure_drop: Quantity | None = None
    exhaust_pressure_drop: Quantity | None = None
    pressure_drop: Quantity | None = None


@dataclass(frozen=True, slots=True)
class ElectricalDesign:
    """The unit's own supply, where the schedule gives one for the whole unit."""

    volts: Quantity | None = None
    phases: Quantity | None = None
    hertz: Quantity | None = None
    amps: Quantity | None = None
    minimum_circuit_amps: Quantity | None = None
    overcurrent_amps: Quantity | None = None


@dataclass(frozen=True, slots=True)
class EquipmentDesign:
    """What the unit has, as it is written; `equipment.codes_in` reads it."""

    options: Written | None = None
    field_sensors: Written | None = None


@dataclass(frozen=True, slots=True)
class DesignRow:
    """What the schedule says about one tag. A field that is None is not named there; see `not_given` for the rest.

    Attributes:
        tag: one tag, also where the schedule writes a run of them.
        tag_at: where the tag is written, and how.
        table: number of the table on its sheet, counted from 1.
        kind: erv, hrv, doas, ahu, exhaust_fan, makeup_fan, or '' where nothing tells.
        ports, fans: only those that the schedule names.
        notes: footnotes that the row cites, and the general ones of its table.
        not_given: by field path ('supply.airflow'), what is expressly left open.
        other: by header text, cells of columns that were not understood.
        type_at: where the type's row stands, if the figures come from one.
    """

    tag: str
    tag_at: Written
    table: int
    kind: str = ""
    ports: Mapping[str, PortDesign] = field(default_factory=dict)
    fans: Mapping[str, FanDesign] = field(default_factory=dict)
    exchanger: ExchangerDesign | None = None
    electrical: ElectricalDesign | None = None
    equipment: EquipmentDesign | None = None
    air_basis: AirBasis | None = None
    type: Written | None = None
    location: Written | None = None
    serves: Written | None = None
    building: Written | None = None
    manufacturer: Written | None = None
    model: Written | None = None
    remarks: Written | None = None
    notes: tuple[Note, ...] = ()
    scope: tuple[ScopeWord, ...] = ()
    not_given: Mapping[str, NotGiven] = field(default_factory=dict)
    other: Mapping[str, Written] = field(default_factory=dict)
    type_at: Written | None = None


@dataclass(frozen=True, slots=True)
class ColumnMeaning:
    """What one column was understood as.

    Attributes:
        meaning: a code of `meanings.MEANINGS`, or '' where not understood.
        unit: unit code, '' where none is needed or known.
        how: 'recognised', 'chosen' or 'not understood'.
        sample: the first text below the header.
    """

    sheet: str
    table: int
    column: str
    header: str
    meaning: str
    unit: str
    how: str
    sample: str


@dataclass(frozen=True, slots=True)
class TableFound:
    """One table: where it is, what stands above it, how many rows it gave."""

    sheet: str
    number: int
    title: str
    header_row: int
    first_row: int
    last_row: int
    first_column: str
    last_column: str
    rows: int
    air_basis: AirBasis | None = None
    skipped: bool = False


@dataclass(frozen=True, slots=True)
class Remark:
    """Something worth a look that does not stand in the way."""

    sheet: str
    row: int
    column: str
    text: str
    code: str


@dataclass(frozen=True, slots=True)
class Question:
    """What only a person can say before the rows may be applied; `code` is 'air_basis' or 'decimal'."""

    code: str
    text: str
    answers: tuple[str, ...]
    at: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Understanding:
    """All that was understood, and what stands in the way of applying it."""

    rows: tuple[DesignRow, ...] = ()
    columns: tuple[ColumnMeaning, ...] = ()
    tables: tuple[TableFound, ...] = ()
    errors: tuple[ScheduleError, ...] = ()
    remarks: tuple[Remark, ...] = ()
    questions: tuple[Question, ...] = ()
    decimal: str = "point"

    @property
    def may_apply(self) -> bool:
        """Nothing is applied while an error stands or a question is open."""
        return not self.errors and not self.questions and bool(self.rows)

    @property
    def rows_to_apply(self) -> tuple[DesignRow, ...]:
        return self.rows if self.may_apply else ()


@dataclass(frozen=True, slots=True)
class ColumnChoice:
    """A person's word on one column: its meaning, its unit, or both ('' leaves what was recognised)."""

    sheet: str
    table: int
    column: str
    meaning: str = ""
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Choices:
    """What a person said after seeing a dry run.

    Attributes:
        columns: meanings and units of columns; meaning 'ignore' leaves a column out.
        air_basis: '', 'standard', 'actual' or 'not stated', for the tables that do not say or say both.
        decimal: '', 'point' or 'comma'.
        skip: (sheet, table number) of tables to leave out.
        tags_of: tags of a type or of a 'TYP. OF n' row, by the text of its tag.
    """

    columns: tuple[ColumnChoice, ...] = ()
    air_basis: str = ""
    decimal: str = ""
    skip: tuple[tuple[str, int], ...] = ()
    tags_of: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
