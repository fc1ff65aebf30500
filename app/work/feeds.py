"""Feeds: a secret address for each person, under which a calendar program reads the appointments."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlmodel import col, select

from app.core.errors import FullcountError
from app.exchange.icalendar_feed import FeedEvent, calendar_bytes, initials
from app.storage.bookings import Appointment, FeedAddress
from app.storage.database import Store
from app.storage.people import Patient, Staff
from app.storage.practice import Room
from app.storage.practice_scope import NotFound, PracticeScope
from app.work.actor import TEAM, Actor, require
from app.work.booking_hours import practice_zone

SECRET_BYTES = 32
"""256 random bits: nobody guesses it, so a fast hash keeps it well enough."""
PAST_DAYS, COMING_DAYS = 30, 366
MOST_ADDRESSES = 5


@dataclass(frozen=True, kw_only=True)
class Feed:
    """What is sent: the calendar and the tag that changes when it does."""

    body: bytes
    tag: str


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


def make_feed(scope: PracticeScope, actor: Actor, *, shows_names: bool, at: datetime) -> str:
    """A new address for oneself; the answer is its secret, which cannot be read again later."""
    require(actor, TEAM, "have a calendar feed")
    if len(own_feeds(scope, actor)) >= MOST_ADDRESSES:
        raise FullcountError(f"you have {MOST_ADDRESSES} addresses already. Revoke one that you no longer use")
    secret = secrets.token_urlsafe(SECRET_BYTES)
    scope.add(FeedAddress(staff_id=actor.staff_id, secret_hash=_hash(secret), shows_names=shows_names, made_at=at))
    return secret


def revoke_feed(scope: PracticeScope, actor: Actor, feed_id: str, *, at: datetime) -> None:
    """End an address of one's own, at once and for good."""
    require(actor, TEAM, "revoke a calendar feed")
    row = scope.get(FeedAddress, feed_id, "calendar address")
    if row.staff_id != actor.staff_id:
        raise NotFound("no such calendar address of yours. Go back and choose it from the list")
    row.revoked_at = row.revoked_at or at
    scope.session.add(row)
    scope.session.flush()


def own_feeds(scope: PracticeScope, actor: Actor) -> Sequence[FeedAddress]:
    """One's own addresses in force, the newest first."""
    query = scope.select(FeedAddress).where(
        FeedAddress.staff_id == actor.staff_id, col(FeedAddress.revoked_at).is_(None)
    )
    return scope.all(query.order_by(col(FeedAddress.made_at).desc(), col(FeedAddress.id)))


def read_feed(store: Store, secret: str, *, at: datetime) -> Feed | None:
    """The calendar behind a secret; None where there is none, it was revoked, or its owner has left.

    Nobody is logged in here: the secret alone says whose practice it is.
    """
    with store.reading() as everywhere:
        found = everywhere.session.exec(
            select(FeedAddress, Staff)
            .join(Staff, col(Staff.id) == FeedAddress.staff_id)
            .where(FeedAddress.secret_hash == _hash(secret))
        ).first()
    if found is None or found[0].revoked_at is not None or found[1].retired:
        return None
    address = found[0]
    with store.reading(address.practice_id) as scope:
        name = scope.practice().name
        events = _events(scope, at, shows_names=address.shows_names)
    body = calendar_bytes(name, events)
    return Feed(body=body, tag=f'"{hashlib.sha256(body).hexdigest()[:32]}"')


def _events(scope: PracticeScope, at: datetime, *, shows_names: bool) -> list[FeedEvent]:
    zone = practice_zone(scope)
    # From whole days, so that the same appointments are sent all day long.
    midnight = at.replace(hour=0, minute=0, second=0, microsecond=0)
    query = (
        select(Appointment, Patient.name, Room.name)
        .join(Patient, col(Patient.id) == Appointment.patient_id)
        .join(Room, col(Room.id) == Appointment.room_id)
        .where(
            Appointment.practice_id == scope.practice_id,
            col(Appointment.starts_at) >= midnight - timedelta(days=PAST_DAYS),
            col(Appointment.starts_at) < midnight + timedelta(days=COMING_DAYS),
        )
        .order_by(col(Appointment.starts_at), col(Appointment.id))
    )
    return [
        FeedEvent(
            uid=f"{row.id}.{row.practice_id}@appointments.fullcount.invalid",
            starts=row.starts_at.astimezone(zone),
            ends=row.ends_at.astimezone(zone),
            summary=f"Appointment: {patient if shows_names else initials(patient)}",
            place=room,
            stamp=row.changed_at,
            sequence=row.version - 1,
            cancelled=row.status == "cancelled",
        )
        for row, patient, room in scope.session.exec(query).all()
    ]
