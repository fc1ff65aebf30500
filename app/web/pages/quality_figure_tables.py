"""The rates of a breakdown as a table: counts that open the exposures behind them, shares, and intervals."""

from __future__ import annotations

from collections.abc import Sequence

from app.web.pages.quality_address import Asked
from app.web.pages.quality_tables import RATE_COLUMNS, Cell, Column, DataTable, count, joined, rate_cells, with_csv
from app.work.quality_figures import FigureRow
from app.work.quality_period import DIMENSIONS

FIGURE_TITLES = {
    "retaken": "Retaken",
    "non_diagnostic": "Not diagnostic",
    "avoidable": "Retakes that could be spared",
    "missed": "Closed with something missing",
}
"""The headline figures by their code."""

BREAKDOWN_MEASURES = {"retaken": "Retaken", "non_diagnostic": "Not diagnostic"}


def figures_table(asked: Asked, path: str, by: str, rows: Sequence[FigureRow], caption: str) -> DataTable:
    """A row for each value of the dimension.

    Parameters
    ----------
    path : of the page that shows the table, for its CSV
    by : code of the dimension
    """
    columns = (
        Column(DIMENSIONS[by]),
        Column("Exposures", True),
        Column("Retaken", True),
        *_rates("Retaken"),
        Column("Reviewed", True),
        Column("Not diagnostic", True),
        *_rates("Not diagnostic"),
        Column("Could be spared", True),
    )
    key = f"figures-by-{by.replace('_', '-')}"
    return DataTable(
        key=key,
        caption=caption,
        columns=columns,
        rows=[_row(asked, by, row) for row in rows],
        empty="No exposures in this period. Choose a longer one above.",
        csv=with_csv(asked.address(path, by=by if path != "/quality" else ""), key),
    )


def _rates(name: str) -> tuple[Column, ...]:
    """The columns of a rate; in the file their headings say of what."""
    return tuple(
        Column(column.title, column.number, tuple(f"{name}: {heading}" for heading in column.headings))
        for column in RATE_COLUMNS
    )


def _row(asked: Asked, by: str, row: FigureRow) -> tuple[Cell, ...]:
    def behind(measure: str, number: int) -> Cell:
        return count(number, asked.address("/quality/exposures", measure=measure, by=by, value=row.value))

    # Every reason has the period's exposures below the line: they are not its own to open.
    own = by != "reason"
    return joined(
        (Cell(row.title, (row.title,)),),
        (behind("exposures", row.exposures) if own else count(row.exposures),),
        (behind("retaken", row.retake.numerator),),
        rate_cells(row.retake),
        (behind("reviewed", row.reviewed) if own else count(row.reviewed),),
        (behind("non_diagnostic", row.non_diagnostic.numerator),),
        rate_cells(row.non_diagnostic),
        (behind("avoidable", row.avoidable.numerator),),
    )
