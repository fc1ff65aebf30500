"""Targets: what a series must show, each written as one string.

===============  ======================================================================================
``crown:16``       the whole crown of the tooth
``apex:16:MB``     that root's apex with the bone around it
``contact:17-16``  the contact of two neighbours, not overlapped; the teeth stand in arch order
``distal:18``      the free distal surface of the last erupted tooth of a quadrant
``ridge:46``       the bone of a position where no tooth stands
===============  ======================================================================================

``apex:16:*`` stands for all roots of the tooth wherever targets are *named* (a slot, a shortfall, an
exemption); what is asked for and what is covered always names the root.
"""

from __future__ import annotations

from typing import Literal, NewType

from app.core.errors import InputError
from app.core.numbering import Numbering, shown
from app.core.teeth import QUADRANT_NAMES, ROOT_NAMES, Tooth, arch, arch_rank, check_tooth, quadrant

Target = NewType("Target", str)
TargetKind = Literal["crown", "apex", "contact", "distal", "ridge"]

KINDS: tuple[TargetKind, ...] = ("crown", "apex", "contact", "distal", "ridge")
EVERY_ROOT = "*"

_SHAPES = "crown:16, apex:16:MB, contact:17-16, distal:18 or ridge:46"


def crown(tooth: Tooth) -> Target:
    """The whole crown of the tooth."""
    return Target(f"crown:{tooth}")


def apex(tooth: Tooth, root_code: str) -> Target:
    """The apex of one root, with the bone around it."""
    return Target(f"apex:{tooth}:{root_code}")


def contact(first: Tooth, second: Tooth) -> Target:
    """The contact of two teeth of one arch, written in arch order whichever way they are handed in."""
    if arch_rank(first) > arch_rank(second):
        first, second = second, first
    return Target(f"contact:{first}-{second}")


def distal(tooth: Tooth) -> Target:
    """The free distal surface of the tooth."""
    return Target(f"distal:{tooth}")


def ridge(tooth: Tooth) -> Target:
    """The bone of the position."""
    return Target(f"ridge:{tooth}")


def kind(target: Target) -> TargetKind:
    """Which of the five kinds the target is."""
    return target.split(":", 1)[0]  # type: ignore[return-value]


def teeth(target: Target) -> tuple[Tooth, ...]:
    """The tooth of the target; for a contact its two teeth in arch order."""
    return tuple(target.split(":")[1].split("-"))


def root(target: Target) -> str | None:
    """The root of an apex (``"*"`` for all of them), None for the other kinds."""
    parts = target.split(":")
    return parts[2] if len(parts) == 3 else None


def parse_target(text: object, path: str) -> Target:
    """Read a target as it stands in a file or a form.

    Raises
    ------
    InputError
        At ``path``: not a target, an unknown tooth or root, or a contact whose teeth stand in two arches, are
        one tooth, or stand against the arch order.
    """
    if not isinstance(text, str):
        raise InputError(path, f"a target is a text such as {_SHAPES}; got {text!r}")
    head, _, rest = text.partition(":")
    if head not in KINDS or not rest:
        raise InputError(path, f'"{text}" is not a target. Write one of {_SHAPES}')
    if head == "apex":
        tooth, colon, root_code = rest.partition(":")
        check_tooth(tooth, path)
        if not colon or root_code not in (*ROOT_NAMES, EVERY_ROOT):
            raise InputError(
                path,
                f'"{text}" names no known root. Write apex:{tooth}: and one of {", ".join(ROOT_NAMES)}',
            )
        return Target(text)
    if head == "contact":
        return _parse_contact(text, rest, path)
    check_tooth(rest, path)
    return Target(text)


def _parse_contact(text: str, rest: str, path: str) -> Target:
    pair = rest.split("-")
    if len(pair) != 2:
        raise InputError(path, f'"{text}" is not a contact. Write two teeth of one arch, like contact:17-16')
    first, second = (check_tooth(tooth, path) for tooth in pair)
    if first == second:
        raise InputError(path, f'"{text}" names one tooth twice. A contact has two teeth, like contact:17-16')
    if arch(first) != arch(second):
        raise InputError(path, f'"{text}" joins an upper and a lower tooth. A contact lies in one arch')
    ordered = contact(first, second)
    if ordered != text:
        raise InputError(path, f'"{text}" stands against the arch order. Write "{ordered}"')
    return ordered


def label(target: Target, numbering: Numbering) -> str:
    """The target in words, its teeth in the numbering asked for.

    Examples
    --------
    >>> label(Target("contact:17-16"), Numbering.UNIVERSAL)
    'contact 2–3 (upper right)'
    >>> label(Target("apex:16:MB"), Numbering.ISO3950)
    'apex of 16, mesiobuccal root (upper right)'
    """
    names = [shown(tooth, numbering) for tooth in teeth(target)]
    where = _where(teeth(target))
    match kind(target):
        case "crown":
            words = f"crown of {names[0]}"
        case "apex":
            root_code = root(target)
            which = "" if root_code in ("R", None) else ", all roots" if root_code == EVERY_ROOT else None
            words = f"apex of {names[0]}" + (which if which is not None else f", {ROOT_NAMES[str(root_code)]}")
        case "contact":
            words = f"contact {names[0]}–{names[1]}"
        case "distal":
            words = f"distal of {names[0]}"
        case _:
            words = f"ridge at {names[0]}"
    return f"{words} ({where})"


def _where(of: tuple[Tooth, ...]) -> str:
    quadrants = sorted({quadrant(tooth) for tooth in of})
    if len(quadrants) == 1:
        return QUADRANT_NAMES[quadrants[0]]
    return f"{arch(of[0])} midline"
