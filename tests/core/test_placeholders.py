"""Texts with placeholders: refused where they cannot be filled, and filled without running anything."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.errors import InputError
from app.core.notation.placeholders import check_placeholders, filled, placeholders

KNOWN = ("name", "due_date")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("Dear {nam}", 'line 1: "{nam}" is not known. Did you mean "name"? There are: {name}, {due_date}'),
        ("a\n{name.__class__}", 'line 2: "{name.__class__}" is not known.'),
        ("{{ 7 * 7 }}", 'line 1: "{7 * 7}" is not known.'),
        ("{name", "line 1: a curly bracket stands alone"),
        ("name}", "line 1: a curly bracket stands alone"),
        ("{}", 'line 1: "{}" is not known.'),
    ],
)
def test_what_cannot_be_filled_is_refused_when_it_is_written(text: str, message: str) -> None:
    with pytest.raises(InputError) as refused:
        check_placeholders(text, KNOWN, "body")

    assert refused.value.path == "body"
    assert refused.value.message.startswith(message)


def test_a_text_is_filled() -> None:
    text = "Dear { name }, due {due_date}.\n100 % {name}"
    check_placeholders(text, KNOWN, "body")

    assert filled(text, {"name": "Ada", "due_date": "1 May 2026"}) == "Dear Ada, due 1 May 2026.\n100 % Ada"
    assert placeholders(text) == ["name", "due_date"]


@given(st.text())
def test_whatever_a_name_holds_stands_in_the_letter_as_it_is(name: str) -> None:
    assert filled("<{name}>", {"name": name}) == f"<{name}>"


@given(st.text(st.sampled_from("{}abname _\n"), max_size=30))
def test_a_text_that_was_accepted_can_always_be_filled(text: str) -> None:
    try:
        check_placeholders(text, KNOWN, "body")
    except InputError:
        return

    assert "{" not in filled(text, dict.fromkeys(KNOWN, "x"))
