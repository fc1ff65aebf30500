"""Where in the mouth each target lies: the points that must fall on the receptor for the target to be shown."""

from __future__ import annotations

import numpy as np

from app.core import targets
from app.core.dentition import asked_targets
from app.core.targets import Target
from app.imaging.simulator.mouth import Mouth, PlacedTooth
from app.imaging.simulator.solids import Floats

RIDGE_DEPTH_MM = 6.0
"""How much bone below its crest a view of a bare ridge must hold (published: 6 mm of bone behind the last molar
where no third molar stands)."""


def wanted_targets(mouth: Mouth, shows: tuple[Target, ...]) -> tuple[Target, ...]:
    """What a slot's promise asks of this patient: roots written out, what the dentition does not ask left out."""
    asked = set(asked_targets(mouth.dentition))
    named = (each for target in shows for each in mouth.dentition.expand(target))
    return tuple(dict.fromkeys(target for target in named if target in asked))


def target_points(mouth: Mouth, target: Target) -> Floats:
    """The points of a target, shape (n, 3), mm."""
    teeth = targets.teeth(target)
    match targets.kind(target):
        case "crown":
            return mouth.teeth[teeth[0]].crown_points
        case "apex":
            return mouth.teeth[teeth[0]].apex(targets.root(target) or "R")[None, :]
        case "contact":
            return contact_points(mouth.teeth[teeth[0]], mouth.teeth[teeth[1]])
        case "distal":
            return side_points(mouth.teeth[teeth[0]], -1)
        case _:
            return ridge_points(mouth, teeth[0])


def side_points(tooth: PlacedTooth, front: int) -> Floats:
    """The front (+1) or back (-1) side of a crown, from the contact's height to the neck, shape (n, 3), mm."""
    body = tooth.shape.crown[0]
    heights = np.linspace(tooth.contact_height, -0.3, 4)
    points = []
    for height in heights:
        x, b, wide, _ = body.section(float(height))
        points.append((x + front * wide, b, float(height)))
    return tooth.to_world(points, mesial=True)


def contact_points(first: PlacedTooth, second: PlacedTooth) -> Floats:
    """The two surfaces of a contact, teeth in arch order, shape (2, 3), mm."""
    return np.concatenate([side_points(first, first.mesial)[:1], side_points(second, -second.mesial)[:1]])


def ridge_points(mouth: Mouth, tooth: str) -> Floats:
    """The bone of a position: its crest from end to end and `RIDGE_DEPTH_MM` below it, shape (n, 3), mm."""
    jaw = mouth.jaws["upper" if tooth[0] in "1256" else "lower"]
    low, high = jaw.spans[tooth]
    places = np.linspace(low + 0.5, high - 0.5, 3)
    return np.array(
        [
            jaw.point(float(place), jaw.crest_z(float(place)) + jaw.up * depth)
            for place in places
            for depth in (0.0, RIDGE_DEPTH_MM)
        ]
    )
