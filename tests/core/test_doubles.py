"""Which names may be one person's."""

from __future__ import annotations

import pytest

from app.core.doubles import letters_apart, likely_pairs, why_similar


@pytest.mark.parametrize(
    ("one", "other", "why"),
    [
        ("Ada Stone", "Stone, Ada", "same name"),
        ("Zoë Márquez", "zoe marquez", "same name"),
        ("Ada Stone", "Ada Merriweather-Stone", "one name holds every word of the other"),
        ("Ilka Brandt", "Ilka Brant", "1 letter differs"),
        ("Ilka Brandt", "Ilak Brant", "2 letters differ"),
        ("Ilka Brandt", "Pell Brandt", ""),
        ("Ada", "Ada Stone", ""),
        ("Bo Li", "Bo Lu", "1 letter differs"),
        ("Bo", "Bi", ""),
        ("", "Ada", ""),
    ],
)
def test_names_are_similar_for_a_reason_or_not_at_all(one: str, other: str, why: str) -> None:
    assert why_similar(one, other) == why
    assert why_similar(other, one) == why


def test_an_exchange_of_neighbours_is_one_letter() -> None:
    assert letters_apart("brandt", "brandtx") == 1
    assert letters_apart("brandt", "brantd") == 1


def test_pairs_are_sought_among_those_born_on_one_day_only() -> None:
    groups = [[("a", "Ada Stone"), ("b", "Bo Tarn"), ("c", "Ada Stome")], [("d", "Ada Stone")]]

    assert likely_pairs(groups) == [("a", "c", "1 letter differs")]
