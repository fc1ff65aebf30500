"""CSV text as people have it: any usual delimiter and encoding, found out and said, with every fault at its line.

RFC 4180 (2005, text/csv) is what well-made files follow: fields with a comma, quote or line break are quoted, a
quote inside is doubled, nothing stands between a closing quote and the delimiter. Others are read as far as they
can be, and the lines that cannot be are named.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from dataclasses import dataclass

from app.core.errors import InputError
from app.core.notation.formulas import unguarded
from app.exchange.csv_encoding import decoded, detected_encoding, is_workbook

MAX_BYTES = 50_000_000
MAX_LINES = 1_000_000
MAX_FIELDS = 200
MAX_FIELD_LENGTH = 10_000
"""Characters of one field; a name or address has a few dozen."""

DELIMITERS: dict[str, str] = {",": "comma", ";": "semicolon", "\t": "tab", "|": "vertical bar"}
SAMPLE_RECORDS = 50
_SAMPLE = 65536
_AFTER_QUOTE = "text stands after a closing quotation mark. Double a quote inside a field"
_CONTROLS = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")


@dataclass(frozen=True)
class CsvFault:
    """A line that cannot be used.

    Parameters
    ----------
    line : of the file, from 1; of a record over several lines, its first
    field : number of the field, from 1; 0 where it is the line as a whole
    """

    line: int
    field: int
    reason: str


@dataclass(frozen=True)
class CsvRow:
    """A record as it stood."""

    line: int
    fields: tuple[str, ...]


@dataclass(frozen=True)
class CsvTable:
    """What a file holds, and how it was read.

    Parameters
    ----------
    header : names of the columns; ``column 3`` where there is none
    rows : every record with as many fields as the header
    faults : every record that cannot be used, by line
    """

    encoding: str
    delimiter: str
    header: tuple[str, ...]
    rows: tuple[CsvRow, ...]
    faults: tuple[CsvFault, ...]


def read_csv(data: bytes, *, encoding: str = "", delimiter: str = "", has_header: bool = True) -> CsvTable:
    """The table in a file.

    Parameters
    ----------
    encoding, delimiter : as a person chose them; empty to find them out
    has_header : whether the first record names the columns

    Raises
    ------
    InputError
        At ``file``: empty, too large, a workbook or otherwise no text, or a quotation mark that is never closed.
        At ``encoding`` or ``delimiter``: a choice that cannot be.
    """
    _check_size(data)
    encoding = encoding or detected_encoding(data)
    if not encoding.startswith("utf-16"):
        _check_is_text(data[:_SAMPLE].decode("latin-1"))
    text = decoded(data, encoding)
    _check_is_text(text[:_SAMPLE])
    lines = list(io.StringIO(text, newline=""))
    if len(lines) > MAX_LINES:
        raise InputError("file", f"it has {len(lines):,} lines; {MAX_LINES:,} are the most. Divide it into parts")
    hint = re.fullmatch(r'"?sep=(.)"?\s*', lines[0], re.IGNORECASE)
    first = 1 if hint else 0
    if not delimiter:
        delimiter = hint[1] if hint and hint[1] in DELIMITERS else detected_delimiter(lines[first:])
    if delimiter not in DELIMITERS:
        raise InputError("delimiter", f'"{delimiter}" is not one of {", ".join(DELIMITERS.values())}. Choose one')
    return _table(lines, first, encoding, delimiter, has_header)


def _check_size(data: bytes) -> None:
    if not data.strip():
        raise InputError("file", "it is empty. Choose the file that holds the table")
    if len(data) > MAX_BYTES:
        size = f"{len(data) / 1e6:.0f} MB"
        raise InputError("file", f"it has {size}; {MAX_BYTES / 1e6:.0f} MB are the most. Divide it into parts")
    if is_workbook(data):
        raise InputError("file", "it is a workbook or an archive, not CSV. Save the sheet as CSV, and choose that")


def _check_is_text(sample: str) -> None:
    if not sample.strip():
        raise InputError("file", "it holds nothing but blanks. Choose the file that holds the table")
    if len(_CONTROLS.findall(sample)) > max(3, len(sample) // 50):
        raise InputError("file", "it is not text: it holds many control characters. Save the table as CSV first")


def detected_delimiter(lines: list[str]) -> str:
    """The delimiter at which most records have as many fields as the first; a comma where none divides it."""
    best, best_score = ",", (0.0, 0)
    sample = lines[: SAMPLE_RECORDS * 4]
    for delimiter in DELIMITERS:
        widths: list[int] = []
        try:
            for record in csv.reader(sample, delimiter=delimiter):
                if any(record):
                    widths.append(len(record))
                if len(widths) == SAMPLE_RECORDS:
                    break
        except csv.Error:
            pass
        if not widths or widths[0] < 2:
            continue
        score = (Counter(widths)[widths[0]] / len(widths), widths[0])
        if score > best_score:
            best, best_score = delimiter, score
    return best


def _table(lines: list[str], first: int, encoding: str, delimiter: str, has_header: bool) -> CsvTable:
    header: tuple[str, ...] = ()
    rows: list[CsvRow] = []
    faults: list[CsvFault] = []
    reader = csv.reader(lines[first:], delimiter=delimiter, strict=True)
    while True:
        line = first + reader.line_num + 1
        try:
            fields = next(reader)
        except StopIteration:
            break
        except csv.Error as error:
            _refuse_unclosed(lines, line, first + reader.line_num, delimiter, error)
            at = _field_of_fault("".join(lines[line - 1 : first + reader.line_num]), delimiter)
            faults.append(CsvFault(line, at, _AFTER_QUOTE))
            if not header:
                raise InputError("file", f"line {line}, field {at}: {faults[-1].reason}") from error
            continue
        if not any(field.strip() for field in fields):
            continue
        if not header:
            header = _header(fields, line, has_header)
            if has_header:
                continue
        fault = _fault_of(fields, header, line)
        if fault is None:
            rows.append(CsvRow(line, tuple(unguarded(field) for field in fields[: len(header)])))
        else:
            faults.append(fault)
    if not header:
        raise InputError("file", "it holds no line with anything in it. Choose the file that holds the table")
    return CsvTable(encoding, delimiter, header, tuple(rows), tuple(faults))


def _header(fields: list[str], line: int, has_header: bool) -> tuple[str, ...]:
    while fields and not fields[-1].strip():
        fields = fields[:-1]
    if len(fields) > MAX_FIELDS:
        raise InputError(
            "file", f"line {line} has {len(fields)} fields; {MAX_FIELDS} are the most. Check how it is divided"
        )
    names = [unguarded(" ".join(_CONTROLS.sub("", field).split()))[:80] if has_header else "" for field in fields]
    return tuple(name or f"column {number}" for number, name in enumerate(names, 1))


def _fault_of(fields: list[str], header: tuple[str, ...], line: int) -> CsvFault | None:
    count = len(fields)
    while count > len(header) and not fields[count - 1].strip():
        count -= 1
    if count != len(header):
        at = min(count, len(header)) + 1
        reason = f"this line has {count} fields, the first has {len(header)}. Check quotes and delimiters"
        return CsvFault(line, at, reason)
    for number, field in enumerate(fields, 1):
        if len(field) > MAX_FIELD_LENGTH:
            return CsvFault(line, number, f"it has {len(field):,} characters; {MAX_FIELD_LENGTH:,} are the most")
        found = _CONTROLS.search(field)
        if found:
            name = "a NUL byte" if found[0] == "\0" else f"a control character (number {ord(found[0])})"
            return CsvFault(line, number, f"it holds {name}. Type the field again")
    return None


def _refuse_unclosed(lines: list[str], start: int, end: int, delimiter: str, error: csv.Error) -> None:
    """A quote that is never closed swallows the rest, so nothing after it can be trusted."""
    if "unexpected end" in str(error) or "field limit" in str(error):
        record = "".join(lines[start - 1 : min(end, start + 200)])
        at = _field_of_fault(record, delimiter)
        raise InputError(
            "file", f"line {start}, field {at}: a quotation mark is opened and not closed. Close it or take it out"
        ) from error


def _field_of_fault(record: str, delimiter: str) -> int:
    """Number of the field in which the quoting of a record goes wrong."""
    number, at, length = 1, 0, len(record)
    while at < length:
        if record[at] == '"':
            close = at + 1
            while close < length and not (record[close] == '"' and record[close + 1 : close + 2] != '"'):
                close += 2 if record[close] == '"' else 1
            if close >= length or record[close + 1 : close + 2] not in (delimiter, "\r", "\n", ""):
                return number
            at = close + 1
        end = record.find(delimiter, at)
        if end < 0:
            return number
        at, number = end + 1, number + 1
    return number
