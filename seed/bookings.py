"""The demo's calendar: opening hours, some weeks of appointments behind and some ahead."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime, time, timedelta
from random import Random

from app.core.errors import InputError
from app.storage.database import Store
from app.work.actor import Actor
from app.work.booking_free import free_on
from app.work.booking_hours import close_day, practice_zone, save_booking_settings, save_hours
from app.work.bookings import Wanted, book, cancel, mark
from seed.acting import acting

SEED = 20260330
ZONE = "Europe/Lisbon"
WEEKS = (
    ["08:30-12:30, 13:30-17:30"] * 4 + ["08:30-13:00", "", ""],
    ["09:00-13:00, 14:00-18:00"] * 5 + ["", ""],
    ["08:30-12:30", "08:30-12:30", "13:30-18:30", "13:30-18:30", "", "09:00-12:00", ""],
)
PURPOSES = ("bitewings-4", "bitewings-4", "bitewings-4", "adult-18", "review")
DAYS_BEHIND, DAYS_AHEAD, A_DAY = 14, 18, 5


def add_calendar(
    store: Store, actors: Mapping[str, Actor], rooms: Sequence[str], patients: Sequence[str], today: date
) -> None:
    """Open the rooms and fill the days around today.

    Parameters
    ----------
    actors : everybody of the practice by log-in
    rooms, patients : ids
    """
    dentist = next(actor for actor in actors.values() if actor.role == "dentist")
    with acting(store, dentist) as scope:
        save_booking_settings(scope, dentist, time_zone=ZONE, recall_share="5", recall_minutes="20")
        for room, week in zip(rooms, WEEKS, strict=False):
            save_hours(scope, dentist, room, week)
        closing = today + timedelta(days=30)
        close_day(scope, dentist, day=closing.isoformat(), room_id="", reason="Harbour festival", today=today)
    chance = Random(SEED)
    desk = [actor for actor in actors.values() if actor.role in ("front_desk", "assistant")]
    behind = chance.sample(list(patients), len(patients))
    ahead = chance.sample(list(patients), len(patients))
    for offset in range(-DAYS_BEHIND, DAYS_AHEAD + 1):
        day = today + timedelta(days=offset)
        if day.weekday() > 4:
            continue
        for _ in range(chance.randint(A_DAY - 2, A_DAY + 2)):
            queue = behind if offset <= 0 else ahead
            if queue:
                _one(store, chance.choice(desk), rooms, queue.pop(), day, today, chance)


def _one(
    store: Store, actor: Actor, rooms: Sequence[str], patient: str, day: date, today: date, chance: Random
) -> None:
    """One appointment, booked some days before, and what became of it."""
    booked_on = datetime.combine(min(day, today) - timedelta(days=chance.randint(3, 20)), time(10), tzinfo=UTC)
    purpose = chance.choice(PURPOSES)
    minutes = {"adult-18": 30, "review": 10}.get(purpose, 15)
    room, pick, fate = chance.choice(list(rooms)), chance.random(), chance.random()
    with acting(store, actor) as scope:
        free = free_on(scope, room, day, minutes, at=booked_on)
        if not free:
            return
        local = free[int(pick * len(free))].astimezone(practice_zone(scope))
        try:
            row = book(
                scope,
                actor,
                patient,
                wanted=Wanted(room_id=room, day=day.isoformat(), time=f"{local:%H:%M}", minutes=str(minutes)),
                purpose=purpose,
                confirmed=True,
                at=booked_on,
            )
        except InputError:
            # The patient sits in another room then.
            return
        if day < today - timedelta(days=1):
            status = "missed" if fate < 0.12 else "kept"
            mark(scope, actor, row.id, status=status, version=row.version, at=row.ends_at)
        elif day > today and fate < 0.06:
            cancel(scope, actor, row.id, reason="called off by the patient", version=row.version, at=booked_on)
