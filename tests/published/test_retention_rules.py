"""How long records are kept, as published; each source stands in shared/guidance/retention/rules.json."""

from __future__ import annotations

from datetime import date

import pytest

from app.core.retention import term_of
from app.exchange.retention_rules import published_rules


@pytest.mark.parametrize(
    ("key", "years", "until_age"),
    [
        ("de_strlschg_85", 10, 28),
        ("uk_england_wales_nhs", 11, 26),
        ("uk_scotland_gds", 10, 26),
        ("ca_ontario", 10, 28),
        ("us_new_hampshire", 7, 25),
        ("cautious", 30, 0),
    ],
)
def test_the_periods_are_those_of_their_sources(key: str, years: int, until_age: int) -> None:
    rule = published_rules()[key]

    assert (rule.years_after_last, rule.until_age) == (years, until_age)
    assert rule.status.startswith(("verified: ", "common practice, no source"))
    assert rule.source


@pytest.mark.parametrize(
    ("born", "last_on", "day"),
    [
        # An adult: 10 years after the last examination.
        (date(1980, 5, 6), date(2016, 2, 29), date(2026, 3, 1)),
        # The day before the 18th birthday is a minor's, the birthday itself is not.
        (date(2000, 5, 6), date(2018, 5, 5), date(2028, 5, 6)),
        (date(2000, 5, 6), date(2018, 5, 6), date(2028, 5, 6)),
        # A child of four is kept until the 28th birthday.
        (date(2012, 5, 6), date(2016, 5, 6), date(2040, 5, 6)),
    ],
)
def test_a_term_by_the_german_rule(born: date, last_on: date, day: date) -> None:
    assert term_of(published_rules()["de_strlschg_85"], last_on=last_on, born=born)[0] == day
