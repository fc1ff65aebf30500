"""The forecast page: a drawn year with its table."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.recall.capacity import Room
from app.storage.columns import now
from app.web.dependencies import CurrentActor, ReadingDep
from app.web.formatting import MONTHS
from app.web.pages.bookings_words import places, short_day
from app.web.rendering import View, render
from app.work.booking_hours import rooms_in_use
from app.work.forecast import ForecastWeek, YearForecast, year_forecast

router = APIRouter(include_in_schema=False)

WIDTH, HEIGHT = 1120, 320
LEFT, RIGHT, TOP, BOTTOM = 56, 8, 14, 34
"""Room around the plot for its words, in the units of the drawing."""

ROOM_WORDS = {Room.ENOUGH: "enough places", Room.PERHAPS: "perhaps too few places", Room.TOO_FEW: "too few places"}
ROOM_LOOKS = {Room.ENOUGH: "covered", Room.PERHAPS: "not_reviewed", Room.TOO_FEW: "gap"}


@dataclass(frozen=True, kw_only=True)
class Bar:
    """A week as drawn: a bar up to the median of those who wait, and the whisker of its interval."""

    x: float
    width: float
    y: float
    height: float
    middle: float
    whisker_top: float
    whisker_bottom: float
    places_y: float
    look: str
    title: str


@dataclass(frozen=True, kw_only=True)
class Tick:
    """A line of an axis with its words."""

    at: float
    text: str


@dataclass(frozen=True, kw_only=True)
class Drawing:
    """The year: bars, and the steps of the places."""

    width: int
    height: int
    left: int
    right: int
    base: int
    bars: list[Bar]
    steps: str
    levels: list[Tick]
    months: list[Tick]


@dataclass(frozen=True, kw_only=True)
class WeekLine:
    """A week in the table."""

    monday: date
    due: int
    places: int
    waiting: str
    seen: str
    left: str
    word: str
    look: str


@dataclass(frozen=True, kw_only=True)
class ForecastView(View):
    """The forecast with what it counts with."""

    places: list[tuple[str, str, bool]]
    rooms: list[tuple[str, str]]
    room: str
    drawing: Drawing
    lines: list[WeekLine]
    summary: str
    rate: str
    backlog: int
    share: int
    minutes: int
    counted_rooms: str
    may_change: bool


@router.get("/calendar/forecast")
def show_forecast(request: Request, scope: ReadingDep, actor: CurrentActor, room: str = "") -> Response:
    """The year to come, of all rooms or one."""
    rooms = rooms_in_use(scope)
    chosen = room if room in {each.id for each in rooms} else ""
    year = year_forecast(scope, now(), room_id=chosen)
    view = ForecastView(
        heading="Forecast of recalls",
        places=places("/calendar/forecast", actor),
        rooms=[("", "All rooms"), *((each.id, each.name) for each in rooms)],
        room=chosen,
        drawing=_drawing(year),
        lines=[_line(week) for week in year.weeks],
        summary=_summary(year),
        rate=_rate(year),
        backlog=year.backlog,
        share=year.settings.recall_share,
        minutes=year.settings.recall_minutes,
        counted_rooms=", ".join(year.rooms),
        may_change=any(target == "/calendar/hours" for _, target, _ in places("", actor)),
    )
    return render(request, "pages/booking_forecast.html", view)


def _line(week: ForecastWeek) -> WeekLine:
    figures = week.figures
    return WeekLine(
        monday=week.monday,
        due=figures.due,
        places=figures.places,
        waiting=_range(figures.waiting.low, figures.waiting.middle, figures.waiting.high),
        seen=_range(figures.seen.low, figures.seen.middle, figures.seen.high),
        left=_range(figures.left.low, figures.left.middle, figures.left.high),
        word=ROOM_WORDS[figures.room],
        look=ROOM_LOOKS[figures.room],
    )


def _range(low: int, middle: int, high: int) -> str:
    return f"{middle}" if low == high else f"{middle} ({low} to {high})"


def _rate(year: YearForecast) -> str:
    rate = year.rate
    if rate.estimate is None:
        return "No appointment has been marked kept or missed yet, so the show rate may be anything."
    return (
        f"{rate.kept} of {rate.kept + rate.missed} marked appointments of the last year were kept: "
        f"{100 * rate.estimate:.0f} per cent, 95 per cent interval {100 * rate.low:.0f} to {100 * rate.high:.0f}."
    )


def _summary(year: YearForecast) -> str:
    if not year.rooms:
        return "There is no room yet, so there are no places."
    short = [week for week in year.weeks if week.figures.room is Room.TOO_FEW]
    perhaps = [week for week in year.weeks if week.figures.room is Room.PERHAPS]
    if not short and not perhaps:
        return "There are places enough in every week."
    if not short:
        return (
            f"Places may be too few in {len(perhaps)} of {len(year.weeks)} weeks, "
            f"first in the week of {_week_of(perhaps[0].monday)}."
        )
    return (
        f"There are too few places in {len(short)} of {len(year.weeks)} weeks, first in the week of "
        f"{_week_of(short[0].monday)}, and perhaps in {len(perhaps)} more."
    )


def _week_of(day: date) -> str:
    return f"{short_day(day)} {day.year}"


def _drawing(year: YearForecast) -> Drawing:
    most = max(max(week.figures.waiting.high, week.figures.places) for week in year.weeks)
    step = _step(most)
    top = max(step, -(-most // step) * step)
    base = HEIGHT - BOTTOM
    pitch = (WIDTH - LEFT - RIGHT) / len(year.weeks)

    def y(count: float) -> float:
        return round(base - (base - TOP) * count / top, 1)

    bars, steps, months = [], [], []
    for number, week in enumerate(year.weeks):
        figures, x = week.figures, LEFT + number * pitch
        middle = figures.waiting.middle
        bars.append(
            Bar(
                x=round(x + pitch * 0.14, 1),
                width=round(pitch * 0.72, 1),
                y=y(middle),
                height=round(base - y(middle), 1),
                middle=round(x + pitch / 2, 1),
                whisker_top=y(figures.waiting.high),
                whisker_bottom=y(figures.waiting.low),
                places_y=y(figures.places),
                look=figures.room.value,
                title=f"Week of {_week_of(week.monday)}: {middle} wait, {figures.places} places",
            )
        )
        steps.append(f"{'L' if number else 'M'}{x:.1f} {y(figures.places)}H{x + pitch:.1f}")
        if week.monday.day <= 7:
            months.append(Tick(at=round(x, 1), text=MONTHS[week.monday.month - 1]))
    return Drawing(
        width=WIDTH,
        height=HEIGHT,
        left=LEFT,
        right=WIDTH - RIGHT,
        base=base,
        bars=bars,
        steps="".join(steps),
        levels=[Tick(at=y(count), text=str(count)) for count in range(0, top + 1, step)],
        months=months,
    )


def _step(most: int) -> int:
    """A round distance of the levels, so that there are three to six."""
    size = 1
    while True:
        for factor in (1, 2, 5):
            if most <= 5 * factor * size:
                return factor * size
        size *= 10
