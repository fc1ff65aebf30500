"""The shipped interval tables, row by row, against the published guidance.

Sources: ADA/FDA 2012 as restated in course CE584 (seen); FGDP(UK) Selection Criteria, 3rd edition, in one
restatement (seen), its adult lines from memory; European Commission RP 136 (2004) from memory; press release of
5 January 2026 on the ADA/AAOMR recommendations that replace the 2012 ones (seen).
"""

from __future__ import annotations

import pytest

from app.core.recall.guidance import GROUPS, RISKS
from app.exchange.recall_guidance import TABLE_KEYS, full_series_custom, published_tables, risk_reasons
from tests.published.shared_files import shared

CLOSED = "if contacts are closed"
NOT_APPLICABLE = "not applicable"

ADA_FDA_2012 = [
    ("child_primary", "high", (6, 12), CLOSED),
    ("child_primary", "moderate", (6, 12), CLOSED),
    ("child_primary", "low", (12, 24), CLOSED),
    ("child_transitional", "high", (6, 12), CLOSED),
    ("child_transitional", "moderate", (6, 12), CLOSED),
    ("child_transitional", "low", (12, 24), CLOSED),
    ("adolescent", "high", (6, 12), CLOSED),
    ("adolescent", "moderate", (6, 12), CLOSED),
    ("adolescent", "low", (18, 36), ""),
    ("adult", "high", (6, 18), ""),
    ("adult", "moderate", (6, 18), ""),
    ("adult", "low", (24, 36), ""),
    ("edentulous", "high", NOT_APPLICABLE, ""),
    ("edentulous", "moderate", NOT_APPLICABLE, ""),
    ("edentulous", "low", NOT_APPLICABLE, ""),
]
"""Course CE584 on ADA/FDA 2012: posterior bitewings of a recall patient, months."""

FGDP_UK = [(group, "high", (6, 6)) for group in GROUPS if group != "edentulous"]
FGDP_UK += [(group, "moderate", (12, 12)) for group in GROUPS if group != "edentulous"]
FGDP_UK += [("child_primary", "low", (12, 18)), ("adolescent", "low", (24, 24)), ("adult", "low", (24, 24))]
"""FGDP(UK), 3rd edition: high 6, moderate 12, low 12 to 18 (primary) and 24 (permanent), months."""

EC_RP136 = FGDP_UK
"""RP 136 gives the same months (from memory)."""


@pytest.mark.parametrize(("group", "risk", "months", "condition"), ADA_FDA_2012)
def test_ada_fda_2012_row_by_row(group, risk, months, condition):
    row = published_tables()["ada_fda_2012"].interval(group, risk)

    assert row is not None
    assert (NOT_APPLICABLE if row.months is None else (row.months.low, row.months.high)) == months
    assert row.condition == condition


@pytest.mark.parametrize(("group", "risk", "months"), FGDP_UK)
def test_fgdp_uk_row_by_row(group, risk, months):
    row = published_tables()["fgdp_uk_3"].interval(group, risk)

    assert row is not None
    assert row.months is not None
    assert (row.months.low, row.months.high) == months


@pytest.mark.parametrize(("group", "risk", "months"), EC_RP136)
def test_ec_rp136_row_by_row(group, risk, months):
    row = published_tables()["ec_rp136"].interval(group, risk)

    assert row is not None
    assert row.months is not None
    assert (row.months.low, row.months.high) == months


@pytest.mark.parametrize("key", ["fgdp_uk_3", "ec_rp136"])
def test_a_table_that_names_no_months_for_mixed_teeth_at_low_risk_says_nothing(key):
    assert published_tables()[key].interval("child_transitional", "low") is None


@pytest.mark.parametrize(
    ("key", "expected"), [("ada_fda_2012", ADA_FDA_2012), ("fgdp_uk_3", FGDP_UK), ("ec_rp136", EC_RP136)]
)
def test_a_table_has_no_row_that_was_not_published(key, expected):
    table = published_tables()[key]
    has = {(group, risk) for group in GROUPS for risk in RISKS if table.interval(group, risk) is not None}

    assert has == {(group, risk) for group, risk, *_ in expected}


def test_the_2012_table_is_superseded_by_the_recommendations_of_january_2026():
    """Press release of 5 January 2026: first update since 2012, replaces and extends it."""
    table = published_tables()["ada_fda_2012"]

    assert (table.year, table.status) == (2012, "superseded")
    assert "January 2026" in table.superseded_by
    assert published_tables()["ada_aaomr_2026"].status == "current"


def test_the_2026_recommendations_come_without_a_table_of_months():
    """Later images follow disease progress and response, not a fixed schedule; no table of months was found."""
    assert published_tables()["ada_aaomr_2026"].rows == ()


def test_three_to_five_years_between_full_series_is_custom_only():
    """Low-grade pages name 3 to 5 years; no body recommends a fixed interval."""
    custom = full_series_custom()

    assert (custom.months.low, custom.months.high) == (36, 60)
    assert "common practice, no source" in custom.source


@pytest.mark.parametrize("key", TABLE_KEYS)
def test_every_row_and_table_names_its_source_with_a_grade(key):
    table = shared(f"guidance/recall/{key}.json")
    sources = [table["source"], *(row["source"] for row in table["rows"])]

    assert all(each.startswith(("verified: ", "from memory")) for each in sources)
    assert all(table[name] for name in ("body", "title", "dated"))


def test_every_reason_of_risk_names_its_source():
    known = shared("guidance/recall/risk_reasons.json")["sources"]

    assert {reason.source.removeprefix("verified: ") for reason in risk_reasons()} == set(known)
