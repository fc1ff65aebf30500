"""The practice's clock: local day and time to moments, through hours that do not exist or come twice."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from app.core.errors import InputError, did_you_mean


def zone_named(name: str, known: Iterable[str], path: str = "time_zone") -> ZoneInfo:
    """The time zone of an IANA name.

    Parameters
    ----------
    known : every name that may be chosen

    Raises
    ------
    InputError
        No such zone; names the nearest.
    """
    names = set(known)
    if name not in names:
        raise InputError(
            path,
            f'"{name}" is not a time zone. Write its area and place, like Europe/Lisbon.'
            + did_you_mean(name, names),
        )
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError) as error:
        raise InputError(path, f'"{name}" is not known on this machine. Choose another time zone') from error


def moments_at(day: date, at: time, zone: ZoneInfo) -> tuple[datetime, ...]:
    """Every moment, in UTC, at which the clock of the zone shows that day and time.

    One on most days, none in the hour that is skipped when clocks go forward, two in the hour that comes twice.
    """
    early, late = (datetime.combine(day, at.replace(fold=fold), tzinfo=zone) for fold in (0, 1))
    if early.utcoffset() == late.utcoffset():
        return (early.astimezone(UTC),)
    found = []
    for local in (early, late):
        moment = local.astimezone(UTC)
        # A skipped time does not come back from UTC as it was; that is how it is told from the others.
        if moment.astimezone(zone).replace(tzinfo=None) == local.replace(tzinfo=None) and moment not in found:
            found.append(moment)
    return tuple(found)


def moment_at(day: date, at: time, zone: ZoneInfo, *, second: bool | None = None, path: str = "time") -> datetime:
    """The one moment that is meant by a local day and time.

    Parameters
    ----------
    second : which of two is meant where the time comes twice; None where nobody has said

    Raises
    ------
    InputError
        The time is skipped on that day, or comes twice and nobody has said which is meant.
    """
    found = moments_at(day, at, zone)
    written = f"{at:%H:%M} on {day.isoformat()}"
    if not found:
        after = first_moment_from(day, at, zone).astimezone(zone)
        raise InputError(
            path, f"{written} does not exist: clocks go forward then. Choose {after:%H:%M} or another time"
        )
    if len(found) == 2 and second is None:
        raise InputError(
            path, f"{written} comes twice: clocks go back then. Say whether the first or second is meant"
        )
    return found[-1 if second else 0]


def first_moment_from(day: date, at: time, zone: ZoneInfo) -> datetime:
    """The first moment, in UTC, whose local time is not before ``at``: in a skipped hour, when the clock jumps."""
    found = moments_at(day, at, zone)
    if found:
        return found[0]
    # Seen with the offset before the jump (fold 0) the time lies after it, by as much as it was past the jump.
    low = datetime.combine(day, at, tzinfo=zone).replace(fold=1).astimezone(UTC)
    high = datetime.combine(day, at, tzinfo=zone).replace(fold=0).astimezone(UTC)
    wanted = datetime.combine(day, at)
    while high - low > timedelta(milliseconds=1):
        middle = low + (high - low) / 2
        if middle.astimezone(zone).replace(tzinfo=None) >= wanted:
            high = middle
        else:
            low = middle
    return high.replace(microsecond=0)


def day_bounds(day: date, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """The moments at which a local day begins and at which the next does: 23, 24 or 25 hours apart, mostly 24."""
    return (
        first_moment_from(day, time(0), zone),
        first_moment_from(day + timedelta(days=1), time(0), zone),
    )
