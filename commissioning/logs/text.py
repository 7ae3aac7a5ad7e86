"""From bytes to clean lines of text: encoding, line ends, quotes, and what parts the fields."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from commissioning.logs.problems import CannotRead, Remark

DELIMITERS = ("\t", ";", "|", ",")
MOST_BYTES = 512 * 1024 * 1024
LONGEST_LINE = 64 * 1024
_HEAD = 400_000
_JOINED_AT_MOST = 5
_USUAL = 0.6


@dataclass(frozen=True)
class Text:
    """UTF-8 without a mark, lines parted by line feeds alone; `lines` gives each line's number in the file."""

    data: bytes
    lines: npt.NDArray[np.int64]
    delimiter: str
    remarks: tuple[Remark, ...]

    @property
    def head(self) -> list[str]:
        return self.data[:_HEAD].decode("utf-8", "ignore").split("\n")[:200]


def clean(data: bytes, delimiter: str = "") -> Text:
    """The text of a delimited file, or CannotRead."""
    if len(data) > MOST_BYTES:
        raise CannotRead("too_large", f"The file has more than {MOST_BYTES >> 20} MB. Export a shorter period.")
    remarks: list[Remark] = []
    data = _decoded(data, remarks)
    data = _line_ends(data, remarks)
    if not data.strip():
        raise CannotRead("empty", "There is nothing in the file. Export the log again.")
    at = data.find(b"\0")
    if at >= 0:
        line = data.count(b"\n", 0, at) + 1
        raise CannotRead("nul", "There is a NUL character. The file was cut or damaged; export it again.", line=line)
    if not data.endswith(b"\n"):
        data += b"\n"
    lines = np.arange(1, data.count(b"\n") + 1, dtype=np.int64)
    _check_length(data)
    if b'"' in data:
        data, lines = _joined(data, lines, remarks)
    return Text(data, lines, delimiter or _delimiter(data), tuple(remarks))


def _decoded(data: bytes, remarks: list[Remark]) -> bytes:
    if data[:3] == b"\xef\xbb\xbf":
        data = data[3:]
    if data[:2] in (b"\xff\xfe", b"\xfe\xff") or _looks_utf_16(data):
        name = "utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-16-le"
        try:
            data = data.decode(name).encode()
        except UnicodeDecodeError as error:
            raise CannotRead("damaged_text", "The file is UTF-16 and is cut or damaged; export it again.") from error
        remarks.append(Remark("encoding", 0, "The file is written in UTF-16; it was read so."))
        return data
    try:
        data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        remarks.append(Remark("encoding", line, "The file is not UTF-8; it was read as Western European text."))
        return data.decode("cp1252", "replace").encode()
    return data


def _looks_utf_16(data: bytes) -> bool:
    head = data[:200]
    return len(head) >= 20 and head[1::2].count(0) > len(head) * 0.4


def _line_ends(data: bytes, remarks: list[Remark]) -> bytes:
    if b"\r" not in data:
        return data
    feeds, pairs, returns = data.count(b"\n"), data.count(b"\r\n"), data.count(b"\r")
    data = data.replace(b"\r\n", b"\n")
    if returns > pairs:
        data = data.replace(b"\r", b"\n")
    if returns > pairs or feeds > pairs:
        remarks.append(Remark("line_ends", 0, "The file mixes ways to end a line; each was taken as an end."))
    return data


def _check_length(data: bytes) -> None:
    ends = np.flatnonzero(np.frombuffer(data, np.uint8) == 10)
    lengths = np.diff(ends, prepend=-1)
    longest = int(lengths.max())
    if longest > LONGEST_LINE:
        line = int(lengths.argmax()) + 1
        raise CannotRead("long_line", f"The line has {longest:,} characters. This is no table of samples.", line=line)


def _joined(data: bytes, lines: npt.NDArray[np.int64], remarks: list[Remark]) -> tuple[bytes, npt.NDArray[np.int64]]:
    """A line break inside quotes becomes a space; a quote that nobody closes is refused where it was opened."""
    held = data.split(b"\n")[:-1]
    odd = [number for number, line in enumerate(held) if b'"' in line and line.count(b'"') % 2]
    if not odd:
        return data, lines
    keep = np.ones(len(held), bool)
    pairs = list(zip(odd[::2], odd[1::2], strict=False))
    for first, last in pairs:
        if last - first > _JOINED_AT_MOST:
            raise _unclosed(first)
        held[first] = b" ".join(held[first : last + 1])
        keep[first + 1 : last + 1] = False
    if len(odd) % 2:
        raise _unclosed(odd[-1])
    first = pairs[0][0] + 1
    remarks.append(Remark("line_break", first, "A field holds a line break; it was read as a space.", len(pairs)))
    kept = [line for line, stays in zip(held, keep, strict=True) if stays]
    return b"\n".join(kept) + b"\n", lines[keep]


def _unclosed(index: int) -> CannotRead:
    return CannotRead(
        "unclosed_quote", "A quote is opened and never closed. Close it, or export again.", line=index + 1
    )


def _delimiter(data: bytes) -> str:
    """What parts most of the lines into the same number of fields; commas last, for they may be decimals."""
    lines = [line for line in data[:_HEAD].decode("utf-8", "ignore").split("\n")[:200] if line.strip()]
    shares = {}
    for delimiter in DELIMITERS:
        counts = [number for line in lines if (number := _outside_quotes(line, delimiter))]
        shares[delimiter] = max((counts.count(number) for number in set(counts)), default=0) / len(lines)
    best = next((one for one in DELIMITERS if shares[one] >= _USUAL), max(shares, key=lambda one: shares[one]))
    if not shares[best]:
        raise CannotRead("no_columns", "The lines do not fall into columns. Send a table: CSV, XLSX or Parquet.")
    return best


def _outside_quotes(line: str, delimiter: str) -> int:
    if '"' not in line:
        return line.count(delimiter)
    return sum(part.count(delimiter) for part in line.split('"')[::2])
