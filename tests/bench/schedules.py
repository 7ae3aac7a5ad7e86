"""A design schedule read and understood, against a streaming read of the same cells and nothing more."""

import io

from openpyxl import Workbook, load_workbook

from portfolio.schedules.reading import read_workbook
from portfolio.schedules.understanding import Choices, understand
from tests.bench.timing import Line, cpu, in_turns, ratio

HEADS = (
    "TAG", "LOCATION", "SERVES", "MANUFACTURER", "MODEL", "SUPPLY AIRFLOW (CFM)", "RETURN AIRFLOW (CFM)",
    "OUTDOOR AIRFLOW (CFM)", "EXHAUST AIRFLOW (CFM)", "MIN OUTDOOR AIRFLOW (CFM)", "SUPPLY FAN ESP (IN. W.C.)",
    "SUPPLY FAN MOTOR (HP)", "SUPPLY FAN RPM", "EXHAUST FAN ESP (IN. W.C.)", "EXHAUST FAN MOTOR (HP)",
    "EXHAUST FAN RPM", "VOLTAGE", "PHASE", "FLA", "MCA", "MOCP", "WEIGHT (LB)", "FILTER", "CURB",
    "WINTER EAT (F)", "WINTER LAT (F)", "SUMMER EAT (F)", "SUMMER LAT (F)", "NOTES", "REMARKS",
)  # fmt: skip


def workbook(rows: int) -> bytes:
    book = Workbook(write_only=True)
    sheet = book.create_sheet("Schedule")
    sheet.append(["ENERGY RECOVERY VENTILATOR SCHEDULE"])
    sheet.append(HEADS)
    for number in range(1, rows + 1):
        flow = 400 + 10 * (number % 90)
        sheet.append(
            [
                f"ERV-{number}", f"ROOF {number % 7}", f"ROOMS {number}", "LINDQVIST", "V-9", flow, flow - 50, flow,
                flow - 50, flow // 2, 0.75, 1.5, 1750, 0.6, 1.0, 1650, 460, 3, 4.2, 6.1, 15, 850, "MERV 13", "BELT",
                0, 52.5, 95, 81.2, "1, 2", "SEE SPEC",
            ]
        )  # fmt: skip
    sheet.append(["NOTES:"])
    sheet.append(["1. ALL AIRFLOWS ARE STANDARD AIR AT 0.075 LB/CU FT."])
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def lines(rows: int) -> list[Line]:
    data = workbook(rows)

    def ours(_: int) -> None:
        found = understand(read_workbook("schedule.xlsx", data), choices=Choices(), known_tags=frozenset())
        assert not found.errors, found.errors[:3]
        assert len(found.rows) == rows

    def streamed(_: int) -> None:
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        assert sum(1 for sheet in book for _ in sheet.iter_rows(values_only=True)) >= rows
        book.close()

    understood, bare = in_turns(ours, streamed, rounds=6)
    return [
        ratio(
            "B8",
            f"schedule of {rows:,} rows × {len(HEADS)} columns understood / streamed, CPU",
            cpu(understood),
            cpu(bare),
            floor=3.0,
            goal=2.0,
            more_is_better=False,
            figures=f"{rows / min(cpu(understood)):,.0f} against {rows / min(cpu(bare)):,.0f} rows per s",
        )
    ]
