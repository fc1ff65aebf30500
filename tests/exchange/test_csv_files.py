"""CSV in any usual shape is read, every line that cannot be is named, and what is written does not run."""

from __future__ import annotations

import csv
import io
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.errors import InputError
from app.core.notation.formulas import could_run, guarded, unguarded
from app.exchange import csv_reading
from app.exchange.csv_encoding import ENCODINGS
from app.exchange.csv_reading import DELIMITERS, read_csv
from app.exchange.csv_writing import csv_bytes

ROWS = [
    ["Chart", "Name", "Born"],
    ["H1", "Müller, Zoë", "1984-03-27"],
    ["H2", 'The "Other" Ångström', "2001-01-02"],
]


def written(rows: list[list[str]], delimiter: str = ",", encoding: str = "utf-8", end: str = "\r\n") -> bytes:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=delimiter, lineterminator=end).writerows(rows)
    return out.getvalue().encode(encoding)


@pytest.mark.parametrize("end", ["\r\n", "\n", "\r"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
@pytest.mark.parametrize("delimiter", sorted(DELIMITERS))
def test_delimiter_and_encoding_are_found_out(delimiter: str, encoding: str, end: str) -> None:
    table = read_csv(written(ROWS, delimiter, encoding, end))

    assert [table.header, *(row.fields for row in table.rows)] == [tuple(row) for row in ROWS]
    assert (table.encoding, table.delimiter, table.faults) == (encoding, delimiter, ())


def test_a_person_s_choice_wins() -> None:
    table = read_csv("a;b,c\nd;e,f\n".encode("cp1250"), encoding="cp850", delimiter=";")

    assert (table.encoding, table.delimiter, table.header) == ("cp850", ";", ("a", "b,c"))


def test_the_line_that_names_the_delimiter_is_followed() -> None:
    table = read_csv(b"sep=;\r\na;b\r\n1;2\r\n")

    assert (table.header, table.rows[0].line, table.rows[0].fields) == (("a", "b"), 3, ("1", "2"))


def test_without_a_header_the_columns_are_numbered() -> None:
    table = read_csv(b"H1,Ada\nH2,Odo\n", has_header=False)

    assert (table.header, len(table.rows), table.rows[0].line) == (("column 1", "column 2"), 2, 1)


def test_a_record_over_several_lines_has_the_number_of_its_first() -> None:
    table = read_csv(b'a,b\n1,"x\ny"\n\n2,z\n')

    assert [(row.line, row.fields) for row in table.rows] == [(2, ("1", "x\ny")), (5, ("2", "z"))]


@pytest.mark.parametrize(
    ("lines", "line", "field", "reason"),
    [
        (b"a,b,c\n1,2,3\n4,5\n", 3, 3, "this line has 2 fields, the first has 3"),
        (b"a,b\n1,2\n4,5,6\n", 3, 3, "this line has 3 fields, the first has 2"),
        (b"a,b\n1,\x002\n", 2, 2, "a NUL byte"),
        (b"a,b\n1,2\x07\n", 2, 2, "a control character (number 7)"),
        (b'a,b\n1,2\n3,"4"5\n6,7\n', 3, 2, "text stands after a closing quotation mark"),
        (b"a,b\n1," + b"x" * 10_001 + b"\n", 2, 2, "10,001 characters"),
    ],
)
def test_a_line_that_cannot_be_used_is_named(lines: bytes, line: int, field: int, reason: str) -> None:
    table = read_csv(lines)

    assert [(each.line, each.field) for each in table.faults] == [(line, field)]
    assert reason in table.faults[0].reason


def test_lines_after_a_faulty_one_are_read() -> None:
    table = read_csv(b'a,b\n3,"4"5\n6,7\n')

    assert [(row.line, row.fields) for row in table.rows] == [(3, ("6", "7"))]


def test_empty_fields_beyond_the_header_do_no_harm() -> None:
    assert read_csv(b"a,b,,\n1,2,,\n3,4,,,,\n").rows[1].fields == ("3", "4")


@pytest.mark.parametrize(
    ("data", "path", "reason"),
    [
        (b"", "file", "empty"),
        (b" \r\n \n", "file", "empty"),
        (b"PK\x03\x04" + b"\0" * 40, "file", "workbook"),
        (bytes(range(256)) * 40, "file", "not text"),
        (b'a,b\n1,"2\n3,4\n', "file", "line 2, field 2: a quotation mark is opened and not closed"),
        (b'a,b\n1,"2\n' + b"3,4\n" * 60_000, "file", "line 2, field 2: a quotation mark is opened and not closed"),
        (b",".join([b"a"] * 201), "file", "201 fields; 200 are the most"),
    ],
)
def test_a_file_that_cannot_be_trusted_is_refused(data: bytes, path: str, reason: str) -> None:
    with pytest.raises(InputError) as refused:
        read_csv(data)

    assert refused.value.path == path
    assert reason in refused.value.message


def test_a_byte_that_the_chosen_encoding_does_not_have_is_named_with_its_line() -> None:
    with pytest.raises(InputError, match=r"encoding: line 2: the byte 0xfc is not UTF-8") as refused:
        read_csv("a,b\nMüller,2\n".encode("cp1252"), encoding="utf-8")

    assert refused.value.path == "encoding"


@pytest.mark.parametrize("name", ["MAX_BYTES", "MAX_LINES"])
def test_limits_are_told_with_their_number(monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    monkeypatch.setattr(csv_reading, name, 3)

    with pytest.raises(InputError, match=r"are the most\. Divide it into parts"):
        read_csv(b"a\nb\nc\nd\n")


@pytest.mark.parametrize("choice", [{"encoding": "klingon"}, {"delimiter": "x"}])
def test_a_choice_that_is_none_is_refused(choice: dict[str, str]) -> None:
    with pytest.raises(InputError, match="Choose one"):
        read_csv(b"a,b\n", **choice)


CELLS = st.text(st.characters(exclude_categories=["Cs", "Cc"]) | st.sampled_from("=+-@'\",;\n\t "), max_size=12)
TABLES = st.integers(2, 5).flatmap(
    lambda width: st.lists(st.lists(CELLS, min_size=width, max_size=width), max_size=6)
)


@settings(max_examples=150, deadline=None)
@given(TABLES)
def test_what_is_written_is_read_back(rows: list[list[str]]) -> None:
    header = [f"c{number}" for number in range(len(rows[0]) if rows else 2)]

    read = read_csv(csv_bytes(header, rows))

    assert [list(row.fields) for row in read.rows] == [row for row in rows if any(cell.strip() for cell in row)]
    assert read.faults == ()


@settings(max_examples=150, deadline=None)
@given(TABLES, st.sampled_from(sorted(DELIMITERS)), st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]))
def test_what_others_wrote_is_read_whatever_the_delimiter(
    rows: list[list[str]], delimiter: str, encoding: str
) -> None:
    """Written by Python's csv module; the choice of delimiter is the person's."""
    width = len(rows[0]) if rows else 2
    data = written([[f"c{number}" for number in range(width)], *rows], delimiter, encoding)

    read = read_csv(data, delimiter=delimiter)

    expected = [[unguarded(cell) for cell in row] for row in rows if any(cell.strip() for cell in row)]
    assert [list(row.fields) for row in read.rows] == expected


@given(st.text(max_size=20))
def test_no_cell_that_is_written_can_run(text: str) -> None:
    assert not could_run(guarded(text))
    assert unguarded(guarded(text)) == text


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=300))
def test_any_bytes_are_a_table_or_refused_with_a_sentence(data: bytes) -> None:
    try:
        table = read_csv(data)
    except InputError as refused:
        said = refused.path in ("file", "encoding")
    else:
        said = bool(table.header) and table.encoding in ENCODINGS

    assert said


@pytest.mark.parametrize(
    "cell", ["=1+1", "+1", "-1", "@SUM(A1)", "\tx", "\rx", "\nx", " =1", "\u00a0=1", "＝1", "'=1", "''@x"]
)
def test_the_starts_that_owasp_names_are_guarded(cell: str) -> None:
    """OWASP, CSV Injection: = + - @, tab, line ends, full-width signs; leading blanks do not hide them."""
    assert guarded(cell) == f"'{cell}"


def test_numbers_stay_numbers_and_days_are_iso() -> None:
    data = csv_bytes(["n", "d", "e"], [[-5, date(2026, 3, 27), None]])

    assert data == b"\xef\xbb\xbfn,d,e\r\n-5,2026-03-27,\r\n"


@pytest.mark.parametrize("name", ["Zoë Müller", "Señora Núñez", "Françoise", "Ångström", "O’Neill"])
def test_western_names_in_one_byte_each_are_read_as_western(name: str) -> None:
    assert read_csv(f"Nr;Name\n1;{name}\n".encode("cp1252")).rows[0].fields[1] == name


def test_cyrillic_is_told_from_western() -> None:
    text = "Номер;Имя;Город\n" + "\n".join(f"{at};Анна Петрова;Владивосток" for at in range(30))

    assert read_csv(text.encode("cp1251")).rows[0].fields[1] == "Анна Петрова"
