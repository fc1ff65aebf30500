"""The pages of one's own log-in."""

from __future__ import annotations


def my_places(here: str) -> list[tuple[str, str, bool]]:
    """As the part `within` takes them."""
    pages = (
        ("Password and PIN", "/me"),
        ("Log-ins under way", "/me/log-ins"),
        ("Second factor", "/me/second-factor"),
    )
    return [(title, address, address == here) for title, address in pages]
