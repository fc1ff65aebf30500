"""The series file: read strictly, written back the same."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest
from hypothesis import given, settings

from app.core.errors import InputError
from app.core.series import Series
from app.exchange.series_file import read_series, write_series
from app.exchange.shared_data import builtin_templates
from tests.strategies import series

GOOD: dict[str, Any] = {
    "format": "fullcount-series/1",
    "template": "adult-18",
    "numbering": "iso3950",
    "dentition_kind": "permanent",
    "dentition": {"18": "missing", "36": "implant", "14": "missing"},
    "roots": {"24": ["R"]},
    "closed_spaces": ["15-13"],
    "exempt": [{"target": "apex:48:D", "reason": "seen on an earlier image"}],
    "policy": {"posterior_contacts": "any"},
    "exposures": [
        {
            "id": "e1",
            "slot": "UR-molar",
            "reviewed": True,
            "shortfalls": [{"code": "apex_cut_off", "targets": ["apex:17:P"]}],
            "also_shows": ["contact:16-15"],
            "retake_of": None,
        }
    ],
}


def changed(*steps: str | int, to: object) -> dict[str, Any]:
    data = copy.deepcopy(GOOD)
    place: Any = data
    for step in steps[:-1]:
        place = place[step]
    place[steps[-1]] = to
    return data


def test_the_whole_file_is_read() -> None:
    read = read_series(GOOD, builtin_templates())

    assert read.exposures[0].shortfalls[0].targets == ("apex:17:P",)
    assert read.dentition.closed_spaces == (("15", "13"),)


@settings(max_examples=100, deadline=None)
@given(series())
def test_what_is_written_reads_back_equal(any_series: Series) -> None:
    written = json.loads(json.dumps(write_series(any_series)))

    assert read_series(written, {}) == any_series


@pytest.mark.parametrize(
    ("data", "path", "words"),
    [
        ([], "", "must be an object"),
        (changed("exposuers", to=[]), "exposuers", 'Did you mean "exposures"?'),
        (changed("format", to="fullcount-series/2"), "format", "fullcount-series/1"),
        (changed("template", to="adult-81"), "template", 'Did you mean "adult-18"?'),
        (changed("template", to=7), "template", "must be an object"),
        (changed("numbering", to="universall"), "numbering", 'Did you mean "universal"?'),
        (changed("dentition", to=[]), "dentition", "must be an object"),
        (changed("dentition", "18", to="gone"), "dentition.18", "Write one of"),
        (changed("dentition", "99", to="missing"), "dentition.99", 'no tooth "99"'),
        (changed("dentition", "18", to=["missing"]), "dentition.18", "no state"),
        (changed("roots", "24", to="R"), "roots.24", "must be a list"),
        (changed("closed_spaces", 0, to="15"), "closed_spaces[0]", "pair of teeth"),
        (changed("exempt", 0, "target", to="crown:1"), "exempt[0].target", "no tooth"),
        (changed("exempt", 0, "reason", to=" "), "exempt[0].reason", "not empty"),
        (changed("policy", "posterior_contact", to="any"), "policy.posterior_contact", "posterior_contacts"),
        (changed("policy", "posterior_contacts", to="bitewings"), "policy.posterior_contacts", '"bitewing"'),
        (changed("exposures", 0, "slot", to="UR-molr"), "exposures[0].slot", 'Did you mean "UR-molar"?'),
        (changed("exposures", 0, "reviewed", to="yes"), "exposures[0].reviewed", "true or false"),
        (changed("exposures", 0, "retake", to=None), "exposures[0].retake", "retake_of"),
        (
            changed("exposures", 0, "shortfalls", 0, "code", to="blured"),
            "exposures[0].shortfalls[0].code",
            "blurred",
        ),
        (
            changed("exposures", 0, "shortfalls", 0, "targets", 0, to="apex:11:R"),
            "exposures[0].shortfalls[0].targets[0]",
            "does not show",
        ),
        (
            changed("exposures", 0, "also_shows", 0, to="contact:15-16"),
            "exposures[0].also_shows[0]",
            "contact:16-15",
        ),
        (changed("exposures", 0, "id", to=1), "exposures[0].id", "must be a text"),
        (changed("exposures", 0, to={"slot": "UR-molar"}), "exposures[0].id", "missing"),
        (changed("exposures", to={}), "exposures", "must be a list"),
    ],
)
def test_every_fault_is_told_with_its_path_and_mend(data: Any, path: str, words: str) -> None:
    with pytest.raises(InputError) as error:
        read_series(data, builtin_templates())

    assert error.value.path == path
    assert words in error.value.message
