"""The trail's use cases as each role tries them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from app.work import trail
from app.work.actor import ADMINISTRATORS, DENTISTS, Actor
from app.work.trail import TrailFilter

ROOMS = (trail,)


def exported(on: Any, actor: Actor) -> object:
    """The export, which opens its own reading scopes."""
    return trail.trail_csv(on.practice.store, actor, TrailFilter())


USE_CASES: dict[str, tuple[frozenset[Any], Callable[..., object]]] = {
    "read_trail": (ADMINISTRATORS, lambda scope, actor, on: trail.read_trail(scope, actor, TrailFilter())),
    "trail_csv": (
        ADMINISTRATORS,
        lambda scope, actor, on: trail.trail_csv(on.practice.store, actor, TrailFilter()),
    ),
    "trail_head": (ADMINISTRATORS, lambda scope, actor, on: trail.trail_head(scope, actor)),
    "trail_people": (ADMINISTRATORS, lambda scope, actor, on: trail.trail_people(scope, actor)),
    "viewers_of": (DENTISTS, lambda scope, actor, on: trail.viewers_of(scope, actor, on.patient)),
}
