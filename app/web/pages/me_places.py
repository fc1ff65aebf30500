"""The pages of one's own log-in, and for administrators of everybody's."""

from __future__ import annotations

from app.work.actor import ADMINISTRATORS, Actor


def my_places(here: str, actor: Actor) -> list[tuple[str, str, bool]]:
    """As the part `within` takes them."""
    pages = [
        ("Password and PIN", "/me"),
        ("Log-ins under way", "/me/log-ins"),
        ("Second factor", "/me/second-factor"),
    ]
    if actor.may(ADMINISTRATORS):
        pages.append(("Log-ins of the practice", "/practice/log-ins"))
    return [(title, address, address == here) for title, address in pages]
