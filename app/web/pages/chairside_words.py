"""Targets in as few words as a person at the chair needs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from app.core import targets
from app.core.numbering import shown
from app.core.series import Series
from app.core.targets import Target
from app.core.teeth import ROOT_NAMES, Tooth

_ONE_AND_MANY = (
    ("contact", "contact", "contacts"),
    ("distal", "free distal surface of", "free distal surfaces of"),
    ("crown", "crown", "crowns"),
    ("apex", "apex", "apices"),
    ("ridge", "ridge at", "ridges at"),
)


def brief_words(some: Sequence[Target], series: Series) -> str:
    """Targets grouped by kind; the roots of one tooth are said together, and not at all where all are meant.

    Examples
    --------
    Apices of 17 and 18 whole, and one root of 16: ``apices 18, 17, 16 palatal``.
    """
    parts: list[str] = []
    for kind, one, many in _ONE_AND_MANY:
        here = [target for target in some if targets.kind(target) == kind]
        if here:
            names = list(_apices(here, series) if kind == "apex" else _names(here, series))
            parts.append(f"{one if len(here) == 1 else many} {', '.join(names)}")
    return "; ".join(parts)


def _names(some: Iterable[Target], series: Series) -> Iterable[str]:
    for target in some:
        yield "–".join(shown(tooth, series.numbering) for tooth in targets.teeth(target))


def _apices(some: Iterable[Target], series: Series) -> Iterable[str]:
    roots: dict[Tooth, list[str]] = {}
    for target in some:
        roots.setdefault(targets.teeth(target)[0], []).append(str(targets.root(target)))
    for tooth, codes in roots.items():
        name = shown(tooth, series.numbering)
        if len(codes) == len(series.dentition.roots_of(tooth)):
            yield name
        else:
            yield f"{name} {' and '.join(ROOT_NAMES[code].removesuffix(' root') for code in codes)}"
