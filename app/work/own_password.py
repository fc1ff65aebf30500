"""One's own password, as it is kept."""

from __future__ import annotations

from app.storage.database import Store
from app.storage.people import Staff
from app.work.actor import EVERYBODY, Actor, require


def own_hash(store: Store, actor: Actor) -> str:
    """The hash of one's own password, for asking it again before something that matters."""
    require(actor, EVERYBODY, "have a password")
    with store.reading(actor.practice_id) as scope:
        return scope.get(Staff, actor.staff_id, "person").password_hash
