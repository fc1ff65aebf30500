"""The published tables of recall intervals in shared/guidance/recall, and a practice's own copies of them."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from typing import Any, cast

from app.core.errors import InputError
from app.core.recall.guidance import AgeGroup, Interval, IntervalTable, Risk, Status
from app.core.recall.intervals import Months
from app.exchange.fields import Fields, built_under, text_at
from app.exchange.shared_data import SHARED

TABLE_KEYS = ("ada_fda_2012", "ada_aaomr_2026", "fgdp_uk_3", "ec_rp136")
"""The published tables, in the order in which they are offered."""

_TABLE = ("key", "short", "body", "title", "year", "dated", "status", "superseded_by", "note", "source", "rows")
_ROW = ("groups", "risks", "months", "condition", "source")


def _load(name: str) -> Any:
    return json.loads((SHARED / "guidance" / "recall" / f"{name}.json").read_text(encoding="utf-8"))


@cache
def published_tables() -> dict[str, IntervalTable]:
    """The published tables by key, in the order in which they are offered."""
    return {key: read_table(_load(key), f"shared/guidance/recall/{key}.json") for key in TABLE_KEYS}


def read_table(data: object, path: str = "") -> IntervalTable:
    """A table as it stands in a file or in the practice's own copy.

    Raises
    ------
    InputError
        At the field that is wrong.
    """
    fields = Fields(data, path, (*_TABLE, "edited"))
    rows = tuple(_row(member, at) for at, member in fields.items("rows", required=True))
    year = fields.number("year", 0)
    if not 1900 <= year <= 2200:
        raise InputError(fields.at("year"), f"{year:g} is not the year of a publication. Write four digits")
    return built_under(
        path,
        lambda: IntervalTable(
            key=fields.text("key"),
            short=fields.text("short"),
            body=fields.text("body"),
            title=fields.text("title"),
            year=int(year),
            dated=fields.text("dated"),
            status=cast(Status, fields.text("status")),
            superseded_by=str(fields.raw("superseded_by")),
            note=str(fields.raw("note")),
            source=fields.text("source"),
            rows=rows,
            edited=fields.flag("edited", False),
        ),
    )


def _row(data: object, path: str) -> Interval:
    fields = Fields(data, path, _ROW)
    groups = tuple(cast(AgeGroup, text_at(each, at)) for at, each in fields.items("groups", required=True))
    risks = tuple(cast(Risk, text_at(each, at)) for at, each in fields.items("risks", required=True))
    return built_under(
        path,
        lambda: Interval(
            groups=groups,
            risks=risks,
            months=_months(fields),
            condition=fields.text("condition", ""),
            source=fields.text("source", ""),
        ),
    )


def _months(fields: Fields) -> Months | None:
    if not fields.has("months"):
        return None
    both = [member for _, member in fields.items("months")]
    if len(both) != 2:
        raise InputError("months", f"a range has two numbers, like [24, 36]; got {len(both)}")
    return Months(cast(int, both[0]), cast(int, both[1]))


def write_table(table: IntervalTable) -> dict[str, Any]:
    """What `read_table` reads."""
    written: dict[str, Any] = {name: getattr(table, name) for name in _TABLE[:-1]}
    written["edited"] = table.edited
    written["rows"] = [
        {
            "groups": list(row.groups),
            "risks": list(row.risks),
            "months": None if row.months is None else [row.months.low, row.months.high],
            "condition": row.condition or None,
            "source": row.source or None,
        }
        for row in table.rows
    ]
    return written


@dataclass(frozen=True, kw_only=True)
class RiskReason:
    """Something that speaks for an increased caries risk, with its source."""

    code: str
    title: str
    source: str


@cache
def risk_reasons() -> tuple[RiskReason, ...]:
    """The short list to tick."""
    return tuple(RiskReason(**each) for each in _load("risk_reasons")["reasons"])


@dataclass(frozen=True, kw_only=True)
class SeriesCustom:
    """How often a full-mouth series is repeated by custom; shown, never used to propose one."""

    months: Months
    source: str


@cache
def full_series_custom() -> SeriesCustom:
    """The custom, with the grade of what is known of it."""
    table = _load("full_series")
    return SeriesCustom(months=Months(*table["months"]), source=table["source"])
