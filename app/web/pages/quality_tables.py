"""Tables of the review: shown on the page and taken away as CSV from the same cells."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from urllib.parse import urlencode

from fastapi.responses import Response
from markupsafe import Markup

from app.core.quality.rates import Rate
from app.reports.tables_csv import Cell as Value
from app.reports.tables_csv import table_csv_bytes
from app.storage.practice_scope import NotFound
from app.web.files_out import attachment
from app.web.quality_drawing.scale import shown_value


@dataclass(frozen=True)
class Column:
    """A column.

    Parameters
    ----------
    number : set to the right, as numbers are
    files : headings in the CSV where they differ; a column may be several there, like the ends of an interval
    """

    title: str
    number: bool = False
    files: tuple[str, ...] = ()

    @property
    def headings(self) -> tuple[str, ...]:
        """The headings in the CSV."""
        return self.files or (self.title,)


@dataclass(frozen=True)
class Cell:
    """A cell: what the page shows and what the file holds.

    Parameters
    ----------
    values : as many as its column has headings in the file
    href : where the shown text leads; empty for plain text
    under : a second line, quieter
    """

    text: str
    values: tuple[Value, ...]
    href: str = ""
    under: str = ""


@dataclass(frozen=True, kw_only=True)
class DataTable:
    """A table; its first column heads the rows.

    Parameters
    ----------
    key : its name in the address of the CSV, and in ids
    csv : address of the file; empty where there is none
    empty : what stands there instead of no rows
    """

    key: str
    caption: str
    columns: tuple[Column, ...]
    rows: Sequence[tuple[Cell, ...]]
    empty: str
    csv: str = ""

    def file(self) -> Response:
        """The table as a CSV file."""
        headings = [heading for column in self.columns for heading in column.headings]
        rows = [[value for cell in row for value in cell.values] for row in self.rows]
        return attachment(f"{self.key}.csv", table_csv_bytes(headings, rows))


@dataclass(frozen=True, kw_only=True)
class Figure:
    """A chart with its table, which says the same in numbers."""

    drawing: Markup
    table: DataTable
    words: list[str] = field(default_factory=list)


def csv_answer(key: str, tables: Iterable[DataTable]) -> Response:
    """The table of that key as a file.

    Raises
    ------
    NotFound
        Where the page has no such table.
    """
    for table in tables:
        if table.key == key:
            return table.file()
    raise NotFound(f'This page has no table "{key}" to take away.')


def with_csv(address: str, key: str) -> str:
    """The address of a page's table as a file."""
    return f"{address}{'&' if '?' in address else '?'}{urlencode({'csv': key})}"


def plain(text: str, value: Value = None, href: str = "", under: str = "") -> Cell:
    """A cell whose file holds the text, or the value where one is given."""
    return Cell(text, (text if value is None else value,), href, under)


def count(number: int, href: str = "") -> Cell:
    """A count; it leads to what was counted where there is any."""
    return Cell(str(number), (number,), href if number else "")


RATE_COLUMNS = (
    Column("Rate", True, ("Rate (share)",)),
    Column("95 % interval", True, ("95 % interval, low (share)", "95 % interval, high (share)")),
)


def rate_cells(rate: Rate) -> tuple[Cell, Cell]:
    """Share and interval, for `RATE_COLUMNS`."""
    low, high = (rate.interval.low, rate.interval.high) if rate.interval is not None else (None, None)
    return (
        Cell(share_text(rate.share), (rate.share,), under="few" if rate.small and rate.denominator else ""),
        Cell(interval_text(rate), (low, high)),
    )


def share_text(share: float | None) -> str:
    """A share in per cent; a dash where there was nothing to count."""
    return "–" if share is None else shown_value(share, "share")


def interval_text(rate: Rate) -> str:
    """The interval of a rate in per cent.

    Examples
    --------
    >>> from app.core.quality.rates import rate
    >>> interval_text(rate(3, 40))
    '2.6 to 19.9 %'
    """
    if rate.interval is None:
        return "–"
    return f"{100 * rate.interval.low:.1f} to {100 * rate.interval.high:.1f} %"


def joined(*parts: Sequence[Cell]) -> tuple[Cell, ...]:
    """The cells of a row put together."""
    return tuple(cell for part in parts for cell in part)
