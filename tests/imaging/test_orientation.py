"""How an image lies, and when that speaks against its slot."""

from __future__ import annotations

import pytest

from app.imaging.finding import FindingCode
from app.imaging.findings import inspect_radiograph
from app.imaging.orientation import contradicts, orientation_of
from tests.imaging.pictures import as_radiograph, mouth


@pytest.mark.parametrize(
    ("width", "height", "lies"),
    [
        (1300, 1000, "landscape"),
        (1000, 1300, "portrait"),
        (1000, 1000, "square"),
        (1050, 1000, "square"),
        (1051, 1000, "landscape"),
        (1000, 1051, "portrait"),
    ],
)
def test_the_longer_side_tells_and_five_per_cent_do_not(width, height, lies):
    assert orientation_of(width, height) == lies


@pytest.mark.parametrize(
    ("lies", "wanted", "speaks_against"),
    [
        ("portrait", "landscape", True),
        ("landscape", "portrait", True),
        ("portrait", "portrait", False),
        ("square", "portrait", False),
    ],
)
def test_only_the_other_way_speaks_against_a_slot(lies, wanted, speaks_against):
    assert contradicts(lies, wanted) is speaks_against


@pytest.mark.parametrize(("wanted", "told"), [("portrait", True), ("landscape", False), (None, False)])
def test_a_mismatch_is_told_only_where_the_slot_is_known(wanted, told):
    found = inspect_radiograph(as_radiograph(mouth(0)), slot_orientation=wanted).findings

    assert (FindingCode.ORIENTATION_MISMATCH in {each.code for each in found}) is told
