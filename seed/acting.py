"""Whoever of the demo's people writes: so that the trail names them, as it names people who work on the pages."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace

from app.storage.database import Store
from app.storage.practice_scope import PracticeScope
from app.storage.trail_doing import doing, present
from app.work.actor import Actor


@contextmanager
def named(actor: Actor) -> Iterator[None]:
    """All that is written inside the block is written in the name of this person."""
    role = actor.role.value
    with doing(replace(present(), who=actor.staff_id, practice_id=actor.practice_id, acting_as=role)):
        yield


@contextmanager
def acting(store: Store, actor: Actor) -> Iterator[PracticeScope]:
    """One transaction of this person's practice, written in their name."""
    with named(actor), store.writing(actor.practice_id) as scope:
        yield scope
