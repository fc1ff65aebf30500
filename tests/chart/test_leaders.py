"""Labels spread out as near to their marks as may be."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.web.chart_drawing.leaders import spread

LABELS = st.lists(st.tuples(st.floats(-400, 400), st.floats(20, 90)), min_size=1, max_size=10)


@given(LABELS)
def test_no_two_labels_overlap(labels: list[tuple[float, float]]) -> None:
    ordered = sorted(labels)
    widths = [width for _, width in ordered]
    centres = spread([want for want, _ in ordered], widths, 480)

    for index in range(len(centres) - 1):
        assert centres[index + 1] - centres[index] >= (widths[index] + widths[index + 1]) / 2 - 1e-6


@given(LABELS)
def test_labels_stay_inside_where_there_is_room(labels: list[tuple[float, float]]) -> None:
    ordered = sorted(labels)
    widths = [width for _, width in ordered]
    centres = spread([want for want, _ in ordered], widths, 480)

    if sum(widths) <= 960:
        assert centres[0] - widths[0] / 2 >= -480 - 1e-6
        assert centres[-1] + widths[-1] / 2 <= 480 + 1e-6


def test_a_label_alone_stands_where_it_wants() -> None:
    assert spread([37.5], [40], 480) == [37.5]


def test_two_that_want_the_same_place_part_evenly() -> None:
    assert spread([10.0, 10.0], [20, 20], 480) == pytest.approx([0.0, 20.0])
