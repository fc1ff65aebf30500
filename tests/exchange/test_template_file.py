"""Template files: read strictly, written back the same."""

from __future__ import annotations

from typing import Any

import pytest

from app.core.errors import InputError
from app.exchange.shared_data import BUILTIN_IDS, builtin_templates, projections
from app.exchange.template_file import read_template, write_template


def template(**slot: Any) -> dict[str, Any]:
    whole = {"id": "a", "kind": "periapical", "title": "A", "shows": ["crown:11"]} | slot
    return {"id": "t", "title": "T", "slots": [whole]}


@pytest.mark.parametrize("template_id", BUILTIN_IDS)
def test_a_built_in_template_reads_back_equal(template_id: str) -> None:
    built_in = builtin_templates()[template_id]

    assert read_template(write_template(built_in)) == built_in


@pytest.mark.parametrize("template_id", BUILTIN_IDS)
def test_every_slot_of_a_built_in_template_has_receptor_and_guidance(template_id: str) -> None:
    for slot in builtin_templates()[template_id].slots:
        assert slot.receptor is not None
        assert slot.projection in projections()
    assert builtin_templates()[template_id].source


@pytest.mark.parametrize(
    ("data", "path", "words"),
    [
        (template(kind="periapicel"), "template.slots[0].kind", 'Did you mean "periapical"?'),
        (template(burden=0), "template.slots[0].burden", "above 0"),
        (template(burden=True), "template.slots[0].burden", "must be a number"),
        (template(burden=float("inf")), "template.slots[0].burden", "too large"),
        (template(burden=10**400), "template.slots[0].burden", "too large"),
        (template(required="no"), "template.slots[0].required", "true or false"),
        (template(receptor={"size": 5, "orientation": "portrait"}), "template.slots[0].receptor.size", "0 to 4"),
        (template(receptor={"size": [], "orientation": "portrait"}), "template.slots[0].receptor.size", "0 to 4"),
        (
            template(receptor={"size": 2, "orientation": "upright"}),
            "template.slots[0].receptor.orientation",
            "Write",
        ),
        (template(show=[]), "template.slots[0].show", 'Did you mean "shows"?'),
        (template(shows=["crown:1"]), "template.slots[0].shows[0]", "no tooth"),
        ({"id": "t", "slots": []}, "template.slots", "at least one slot"),
        ({"id": "t", "slots": template()["slots"] * 2}, "template.slots[1].id", "its own id"),
        ({"id": "", "slots": []}, "template.id", "not empty"),
    ],
)
def test_every_fault_is_told_with_its_path_and_mend(data: Any, path: str, words: str) -> None:
    with pytest.raises(InputError) as error:
        read_template(data)

    assert error.value.path == path
    assert words in error.value.message
