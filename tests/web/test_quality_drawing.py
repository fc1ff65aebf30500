"""Charts of the review: each stands alone in black and white, is told in words, and says what its numbers say."""

from __future__ import annotations

import re
from datetime import date, timedelta
from xml.etree import ElementTree

import pytest

from app.web.quality_drawing.funnel import FunnelLimits, FunnelPoint, funnel_plot
from app.web.quality_drawing.markup import DASHES, shortened
from app.web.quality_drawing.over_time import TimeLine, TimeNote, TimePoint, time_chart
from app.web.quality_drawing.rate_rows import RateRow, rate_rows
from app.web.quality_drawing.scale import DayScale, scale_over, shown_value
from app.web.quality_drawing.sparkline import sparkline

SVG = "{http://www.w3.org/2000/svg}"
NASTY = '<script>alert("x")</script> & "co"'
JANUARY = date(2026, 1, 1)


def months(values: list[float | None], rules: dict[int, str] | None = None) -> list[TimePoint]:
    """A point a month of thirty days."""
    return [
        TimePoint(
            start=JANUARY + timedelta(days=30 * index),
            end=JANUARY + timedelta(days=30 * index + 29),
            value=value,
            rules=(rules or {}).get(index, ""),
        )
        for index, value in enumerate(values)
    ]


def a_rate_chart(name: str = "Merrin Oake") -> str:
    rows = [
        RateRow(name=name, count=12, total=210, low=0.033, high=0.097),
        RateRow(name="Tomke Rill", count=3, total=14, low=0.076, high=0.476, few=True),
        RateRow(name="Nobody yet", count=0, total=0, low=None, high=None),
    ]
    return rate_rows("rates", f"Retakes of {name}", rows, axis="Share retaken (%)", reference=0.06)


def a_funnel(name: str = "Merrin Oake") -> str:
    limits = [
        FunnelLimits(size=size, low_998=0.1, low_95=0.3, high_95=1 + 2 / size, high_998=1 + 3 / size)
        for size in (2.0, 10.0, 30.0)
    ]
    points = [
        FunnelPoint(name=name, size=20.0, value=1.0, zone="inside"),
        FunnelPoint(name="Tomke Rill", size=12.0, value=1.2, zone="beyond_95"),
        FunnelPoint(name="Yorick Bell", size=25.0, value=1.9, zone="beyond_998"),
    ]
    return funnel_plot(
        "funnel",
        f"Funnel of {name}",
        points,
        limits,
        centre=1.0,
        value_axis_title="Seen ÷ expected",
        size_axis_title="Expected",
    )


def a_time_chart(name: str = "new sensor") -> str:
    points = months([0.05, None, 0.04, 0.2], {3: "1"})
    lines = [
        TimeLine(name="mean", kind="centre", values=[0.06] * 4),
        TimeLine(name="upper limit", kind="limit", values=[0.1, None, 0.15, 0.12]),
    ]
    return time_chart(
        "time",
        f"Over time, {name}",
        points,
        lines,
        value_title="Share (%)",
        unit="share",
        notes=[TimeNote(on=date(2026, 2, 3), text=name)],
    )


DRAWN = [a_rate_chart, a_funnel, a_time_chart]


@pytest.mark.parametrize("draw", DRAWN)
def test_a_chart_has_a_title_and_a_description_that_its_picture_names(draw) -> None:
    root = ElementTree.fromstring(draw())

    title, told = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None
    assert title.text
    assert root.get("aria-labelledby") == title.get("id")
    assert told is not None
    assert told.text
    assert root.get("aria-describedby") == told.get("id")
    assert root.get("role") == "img"


@pytest.mark.parametrize("draw", DRAWN)
def test_what_people_typed_stays_text(draw) -> None:
    drawn = draw(NASTY)

    assert "<script" not in drawn
    assert NASTY in "".join(ElementTree.fromstring(drawn).itertext())


@pytest.mark.parametrize("draw", DRAWN)
def test_a_chart_keeps_the_policy_and_stands_alone_in_black_and_white(draw) -> None:
    drawn = draw()

    assert not re.search(r"\sstyle=|<style|\son\w+=|href=", drawn)
    assert set(re.findall(r'(?:fill|stroke)="([^"]+)"', drawn)) <= {"#000", "#fff", "none"}


@pytest.mark.parametrize("draw", DRAWN)
def test_nothing_is_drawn_outside_the_picture(draw) -> None:
    root = ElementTree.fromstring(draw())
    _, _, width, height = (float(each) for each in (root.get("viewBox") or "").split())

    places = [
        (float(each.get(x, 0)), float(each.get(y, 0)))
        for each in root.iter()
        for x, y in (("x", "y"), ("cx", "cy"), ("x1", "y1"), ("x2", "y2"))
    ]

    assert all(0 <= x <= width and 0 <= y <= height for x, y in places)


def test_the_kinds_of_line_differ_without_their_colour() -> None:
    assert len(set(DASHES.values())) == len(DASHES)


def test_points_beyond_a_limit_have_another_shape() -> None:
    root = ElementTree.fromstring(a_funnel())

    looks = {each.get("class", "").split()[1] for each in root.iter() if "q-mark" in each.get("class", "")}
    assert looks == {"q-dot", "q-triangle", "q-diamond"}


def test_a_rate_on_few_exposures_is_hollow_and_says_so() -> None:
    root = ElementTree.fromstring(a_rate_chart())

    rings = [each for each in root.iter(f"{SVG}circle") if "q-ring" in each.get("class", "")]
    assert len(rings) == 1
    assert "3 of 14 (21.4 %, few)" in "".join(root.itertext())


def test_a_point_stands_where_its_value_is() -> None:
    """Twice the share stands twice as far from the start of the axis."""
    rows = [RateRow(name=str(count), count=count, total=100, low=0.0, high=0.4) for count in (10, 20)]

    root = ElementTree.fromstring(rate_rows("r", "t", rows, axis="a"))
    first, second = (float(each.get("cx", 0)) for each in root.iter(f"{SVG}circle"))
    start = min(float(each.get("x1", 0)) for each in root.iter(f"{SVG}line") if each.get("class") == "q-axis")

    assert second - start == pytest.approx(2 * (first - start), abs=0.2)


def test_a_month_without_exposures_has_no_point_and_breaks_the_limit() -> None:
    root = ElementTree.fromstring(a_time_chart())

    marks = [each for each in root.iter() if "q-mark" in each.get("class", "")]
    limits = [each for each in root.iter(f"{SVG}path") if "q-limit" in each.get("class", "")]
    assert (len(marks), len(limits)) == (3, 2)


def test_limits_are_steps() -> None:
    """Each stretch of a limit lies level over its period."""
    lines = [TimeLine(name="upper", kind="limit", values=[0.1, 0.2])]

    drawn = time_chart("t", "t", months([0.05, 0.05]), lines, value_title="a", unit="share")
    path = re.search(r'd="M([^"]+)"[^>]*q-limit', drawn)

    assert path is not None
    (_, a), (_, b), (_, c), (_, d) = (each.split() for each in path.group(1).split("L"))
    assert (a == b, c == d, a == c) == (True, True, False)


def test_a_signal_is_a_diamond_with_the_number_of_its_rule_and_stands_in_the_description() -> None:
    root = ElementTree.fromstring(a_time_chart())

    assert len([each for each in root.iter(f"{SVG}polygon") if "q-diamond" in each.get("class", "")]) == 1
    assert "1 Apr 2026 (rule 1)" in (root.findtext(f"{SVG}desc") or "")


def test_a_note_has_a_flag_and_its_words() -> None:
    words = "".join(ElementTree.fromstring(a_time_chart()).itertext())

    assert "A  3 Feb 2026: new sensor" in words


@pytest.mark.parametrize("count", [0, 1, 400])
def test_any_number_of_points_can_be_drawn(count: int) -> None:
    points = [
        TimePoint(start=JANUARY + timedelta(days=index), end=JANUARY + timedelta(days=index), value=120.0)
        for index in range(count)
    ]

    drawn = time_chart("t", "t", points, [], value_title="Grey level", unit="number", from_zero=False)

    marks = [each for each in ElementTree.fromstring(drawn).iter() if "q-mark" in each.get("class", "")]
    assert len(marks) == count


def test_an_empty_funnel_and_no_rows_are_drawn() -> None:
    funnel = funnel_plot("f", "t", [], [], centre=1.0, value_axis_title="a", size_axis_title="b")

    assert ElementTree.fromstring(funnel).tag == ElementTree.fromstring(rate_rows("r", "t", [], axis="a")).tag


def test_a_sparkline_tells_where_it_began_and_ended() -> None:
    root = ElementTree.fromstring(sparkline("s", "Retakes", [0.05, None, 0.08]))

    assert root.findtext(f"{SVG}desc") == "From 5.0 % to 8.0 % over 3 periods."


@pytest.mark.parametrize(
    ("values", "ticks"),
    [
        ([0.0, 0.093], [0.0, 0.02, 0.04, 0.06, 0.08, 0.1]),
        ([0.0], [0.0, 0.2, 0.4, 0.6, 0.8, 1.0]),
        ([7.0], [0.0, 2.0, 4.0, 6.0, 8.0]),
    ],
)
def test_an_axis_has_round_ticks_that_hold_every_value(values: list[float], ticks: list[float]) -> None:
    assert scale_over(values, 0, 100).ticks() == pytest.approx(ticks)


def test_years_are_written_by_the_quarter_and_weeks_by_the_monday() -> None:
    two_years = DayScale(JANUARY, date(2027, 12, 31), 0, 100)
    five_weeks = DayScale(JANUARY, date(2026, 2, 5), 0, 100)

    assert [text for _, text in two_years.ticks()][:2] == ["Jan 2026", "Apr 2026"]
    assert all(day.weekday() == 0 for day, _ in five_weeks.ticks())


@pytest.mark.parametrize(
    ("value", "unit", "step", "text"),
    [(0.0734, "share", 0.0, "7.3 %"), (0.1, "share", 0.05, "10 %"), (1200.0, "count", 200.0, "1\u202f200")],
)
def test_a_value_is_written_with_its_unit(value: float, unit, step: float, text: str) -> None:
    assert shown_value(value, unit, step) == text


def test_a_long_name_is_cut_with_an_ellipsis() -> None:
    assert shortened("Upper right molar and everything behind it", 120).endswith("…")
