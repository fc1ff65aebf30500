"""The pages of the review, and what each of them has above its content."""

from __future__ import annotations

from dataclasses import dataclass

from app.storage.practice_scope import PracticeScope
from app.web.access import ACCESS
from app.web.pages.quality_address import Asked, Filters, whose
from app.web.rendering import View
from app.work.actor import Actor

PLACES: tuple[tuple[str, str], ...] = (
    ("Overview", "/quality"),
    ("Breakdown", "/quality/figures"),
    ("Fair comparison", "/quality/comparison"),
    ("Over time", "/quality/over-time"),
    ("Receptors", "/quality/receptors"),
    ("Targets", "/quality/targets"),
    ("Training", "/quality/training"),
    ("Second reading", "/quality/grading"),
    ("Radiation", "/quality/radiation"),
    ("Report", "/quality/reports"),
)


@dataclass(frozen=True, kw_only=True)
class Frame:
    """What stands above the content: the neighbouring pages, whose figures they are, and the choices."""

    places: list[tuple[str, str, bool]]
    whose: str
    filters: Filters


@dataclass(frozen=True, kw_only=True)
class ReviewView(View):
    """What every review page has."""

    frame: Frame


def places(actor: Actor, asked: Asked, here: str) -> list[tuple[str, str, bool]]:
    """The review's pages that are open to this person, with the same period and operator."""
    found = []
    for title, path in PLACES:
        roles = ACCESS.get(("GET", path))
        if roles is not None and actor.may(roles):
            found.append((title, asked.address(path), path == here))
    return found


def above(
    scope: PracticeScope, actor: Actor, asked: Asked, here: str, chosen: Filters, *, shared: bool = False
) -> Frame:
    """The frame of a page at the path ``here``.

    Parameters
    ----------
    shared : whether the page is about what everybody uses, like a receptor, so that nothing in it is one's own
    """
    told = "" if shared else whose(asked, actor, scope)
    return Frame(places=places(actor, asked, here), whose=told, filters=chosen)
