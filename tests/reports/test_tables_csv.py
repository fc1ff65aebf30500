"""Tables as CSV: another reader reads them back, and no spreadsheet computes what stands in them."""

from __future__ import annotations

import csv
import io
from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.errors import InputError
from app.core.notation.formulas import STARTS_A_FORMULA
from app.reports.tables_csv import table_csv, table_csv_bytes


def read(text: str) -> list[list[str]]:
    """The table as Python's own reader reads it."""
    return list(csv.reader(io.StringIO(text, newline="")))


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "  =", "\n=", "＝"])
def test_a_text_that_begins_like_a_formula_gets_an_apostrophe(start: str) -> None:
    """CWE-1236 (improper neutralisation of formula elements in a CSV file)."""
    text = f"{start}HYPERLINK(A1)"

    assert read(table_csv(["Name"], [[text]]))[1] == [f"'{text}"]


def test_a_heading_is_guarded_too() -> None:
    assert read(table_csv(["=1"], [])) == [["'=1"]]


@pytest.mark.parametrize(("value", "written"), [(-3, "-3"), (-0.25, "-0.25"), (1200, "1200"), (0.1, "0.1")])
def test_numbers_stay_numbers(value: float, written: str) -> None:
    assert table_csv(["N"], [[value]]).split("\r\n")[1] == written


@pytest.mark.parametrize("value", [None, float("nan"), float("inf")])
def test_what_is_no_number_is_left_empty(value: float | None) -> None:
    assert read(table_csv(["N", "M"], [[value, 1]]))[1] == ["", "1"]


def test_days_and_moments_are_written_as_iso_8601() -> None:
    moment = datetime(2026, 3, 27, 9, 5, tzinfo=UTC)

    assert read(table_csv(["D", "M"], [[date(2026, 3, 27), moment]]))[1] == [
        "2026-03-27",
        "2026-03-27T09:05:00+00:00",
    ]


def test_lines_end_with_cr_lf_and_quotes_are_doubled() -> None:
    """RFC 4180, section 2, rules 1, 2, 5 and 7."""
    assert table_csv(["A"], [['say "ah"']]) == '"A"\r\n"say ""ah"""\r\n'


@given(
    st.lists(st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0")), min_size=1, max_size=4)
)
def test_any_text_comes_back_and_never_begins_like_a_formula(texts: list[str]) -> None:
    row = read(table_csv(["A"] * len(texts), [texts]))[1]

    assert [each.removeprefix("'") for each in row] == [each.removeprefix("'") for each in texts]
    assert not any(each.startswith((*STARTS_A_FORMULA, "＝", "＋", "－", "＠")) for each in row)


def test_a_row_of_another_length_is_refused() -> None:
    with pytest.raises(InputError, match=r"rows\[1\]: row 2 has 1 cells, but there are 2 headings"):
        table_csv(["A", "B"], [["a", "b"], ["a"]])


def test_the_file_begins_with_a_byte_order_mark_and_keeps_accents() -> None:
    data = table_csv_bytes(["Größe"], [["Ünal"]])

    assert data.startswith(b"\xef\xbb\xbf")
    assert data.decode("utf-8-sig") == '"Größe"\r\n"Ünal"\r\n'
