"""Mouths, projections and truths that the simulator's tests share."""

from __future__ import annotations

from functools import cache

from app.cli.simulate import usual_dentition
from app.core.dentition import Dentition
from app.core.templates import Slot
from app.exchange.shared_data import builtin_templates
from app.imaging.simulator import (
    AVERAGE,
    GOOD,
    Equipment,
    Mouth,
    SlotPose,
    TechniqueErrors,
    Truth,
    grown_mouth,
)
from app.imaging.simulator.aim import aimed
from app.imaging.simulator.truth import truth_of

FAR = Equipment(distance_mm=100_000.0)
"""A source so far away that all rays are parallel, as the plane formulae of angulation suppose."""


@cache
def average_mouth() -> Mouth:
    """Thirty-two teeth of the published sizes, standing regularly, without fillings."""
    return grown_mouth(Dentition(), 1, AVERAGE, filled_share=0.0)


@cache
def mouth_for(template_id: str, seed: int, average: bool) -> Mouth:
    """A mouth of the dentition that a template is made for."""
    dentition = usual_dentition(builtin_templates()[template_id])
    return grown_mouth(dentition, seed, AVERAGE if average else None)


def slot(slot_id: str, template_id: str = "adult-18") -> Slot:
    return builtin_templates()[template_id].slot(slot_id)


def pose(slot_id: str, template_id: str = "adult-18") -> SlotPose:
    return SlotPose.of(slot(slot_id, template_id))


def truth(
    slot_id: str, errors: TechniqueErrors = GOOD, equipment: Equipment | None = None, mouth: Mouth | None = None
) -> Truth:
    """The truth of an exposure without making its image."""
    mouth = average_mouth() if mouth is None else mouth
    return truth_of(aimed(pose(slot_id), mouth, errors, equipment), mouth, errors, 0.03)
