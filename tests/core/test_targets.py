"""Targets are read strictly and told in words."""

from __future__ import annotations

import pytest

from app.core.errors import InputError
from app.core.numbering import Numbering
from app.core.targets import Target, label, parse_target


@pytest.mark.parametrize(
    "text", ["crown:16", "apex:16:MB", "apex:16:*", "contact:17-16", "contact:11-21", "distal:18", "ridge:46"]
)
def test_every_form_of_a_target_is_read(text: str) -> None:
    assert parse_target(text, "here") == text


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("contact:16-17", 'Write "contact:17-16"'),
        ("contact:21-11", 'Write "contact:11-21"'),
        ("contact:16-46", "one arch"),
        ("contact:16-16", "twice"),
        ("contact:16", "two teeth"),
        ("crown:19", 'no tooth "19"'),
        ("crown:", "is not a target"),
        ("apex:16", "names no known root"),
        ("apex:16:X", "names no known root"),
        ("root:16", "is not a target"),
        ("CROWN:16", "is not a target"),
        ("", "is not a target"),
        (16, "is a text"),
        (None, "is a text"),
    ],
)
def test_what_is_no_target_is_refused_with_the_mend(text: object, words: str) -> None:
    with pytest.raises(InputError) as error:
        parse_target(text, "exempt[0].target")

    assert error.value.path == "exempt[0].target"
    assert words in error.value.message


@pytest.mark.parametrize(
    ("target", "numbering", "words"),
    [
        ("contact:17-16", Numbering.UNIVERSAL, "contact 2–3 (upper right)"),
        ("contact:11-21", Numbering.ISO3950, "contact 11–21 (upper midline)"),
        ("apex:36:M", Numbering.QUADRANT, "apex of LL6, mesial root (lower left)"),
        ("apex:13:R", Numbering.ISO3950, "apex of 13 (upper right)"),
        ("crown:85", Numbering.UNIVERSAL, "crown of T (lower right)"),
        ("distal:18", Numbering.ISO3950, "distal of 18 (upper right)"),
        ("ridge:46", Numbering.UNIVERSAL, "ridge at 30 (lower right)"),
    ],
)
def test_a_target_is_told_in_the_numbering_asked_for(target: str, numbering: Numbering, words: str) -> None:
    assert label(Target(target), numbering) == words
