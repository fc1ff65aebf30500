"""What is normal for one receptor, and the thresholds that a dentist set for it."""

from __future__ import annotations

import math
import threading
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from weakref import WeakKeyDictionary

from sqlmodel import col, select

from app.core.errors import InputError, did_you_mean
from app.imaging.normal_range import BEYOND, FEWEST_IMAGES, adjusted, learn_normal
from app.imaging.thresholds import reasoned_thresholds, usual_thresholds
from app.storage.findings import ImageMeasure, ReceptorThreshold
from app.storage.practice import Receptor
from app.storage.practice_scope import PracticeScope
from app.storage.series import ExposureRow
from app.work.actor import CHAIRSIDE, DENTISTS, Actor, require
from app.work.text import checked_line

ENOUGH = FEWEST_IMAGES
"""Images from which a receptor's own range is told."""
NEWEST = 500
"""Images looked at, the newest: a receptor ages."""


@dataclass(frozen=True, kw_only=True)
class NormalMeasure:
    """The usual range of one measurement of a receptor.

    Parameters
    ----------
    low, high : median less and plus three robust standard deviations (1.4826 times the median deviation)
    """

    name: str
    median: float
    low: float
    high: float
    images: int


def set_threshold(
    scope: PracticeScope, actor: Actor, receptor_id: str, *, name: str, value: str, reason: str
) -> ReceptorThreshold:
    """Set a threshold for one receptor, or with an empty value go back to the usual one; images to come use it.

    Raises
    ------
    InputError
        Names the field: an unknown threshold, no number, no reason.
    """
    require(actor, DENTISTS, "set a receptor's thresholds")
    receptor = scope.get(Receptor, receptor_id, "receptor")
    known = usual_thresholds()
    if name not in known:
        raise InputError("name", f'no threshold "{name}". Choose one of the list.' + did_you_mean(name, known))
    number = None
    if value.strip():
        try:
            number = float(value.strip().replace(",", "."))
        except ValueError:
            number = math.nan
        if not (math.isfinite(number) and number >= 0):
            raise InputError("value", f'"{value}" is no threshold. Write a number of 0 or more, like 0.25')
    return scope.add(
        ReceptorThreshold(
            receptor_id=receptor.id,
            name=name,
            value=number,
            reason=checked_line(reason, "reason", longest=200),
            set_by=actor.staff_id,
        )
    )


def set_thresholds_of(scope: PracticeScope, receptor_id: str) -> Sequence[ReceptorThreshold]:
    """What was set for a receptor, newest first."""
    query = scope.select(ReceptorThreshold).where(ReceptorThreshold.receptor_id == receptor_id)
    return scope.all(query.order_by(col(ReceptorThreshold.set_at).desc()))


def thresholds_for(scope: PracticeScope, receptor_id: str | None) -> dict[str, float] | None:
    """The thresholds to measure an image of a receptor by; None for the usual ones.

    What a dentist set comes first; else what the receptor's own images taught, once there are
    enough; else the usual.
    """
    if not receptor_id:
        return None
    learned = learned_thresholds(scope, receptor_id)
    own: dict[str, float | None] = {}
    for each in set_thresholds_of(scope, receptor_id):
        own.setdefault(each.name, each.value)
    standing = {name: value for name, value in own.items() if value is not None}
    return {**usual_thresholds(), **learned, **standing} if standing or learned else None


def learned_thresholds(scope: PracticeScope, receptor_id: str) -> dict[str, float]:
    """The thresholds that a receptor's own images moved, by name; empty below `ENOUGH` images."""
    mark = _mark(scope, receptor_id)
    where = (scope.practice_id, receptor_id)
    engine = scope.session.get_bind()
    with _lock:
        kept = _learned.setdefault(engine, {}).get(where)
    if kept is not None and kept[0] == mark:
        return dict(kept[1])
    normal = learn_normal(_measurements(scope, receptor_id))
    usual = usual_thresholds()
    moved = {} if normal is None else adjusted(usual, normal)
    learned = {name: value for name, value in moved.items() if value != usual[name]}
    with _lock:
        _learned[engine][where] = (mark, learned)
    return dict(learned)


_learned: WeakKeyDictionary[Any, dict[tuple[str, str], tuple[tuple[Any, ...], dict[str, float]]]] = (
    WeakKeyDictionary()
)
_lock = threading.Lock()


def _mark(scope: PracticeScope, receptor_id: str) -> tuple[Any, ...]:
    """Which images count, and when each was measured: another of them, one less, or one measured anew changes it.

    A learned range is kept under it. Reading this is far quicker than reading the measurements and learning anew.
    """
    counted = (
        select(ExposureRow.image_id, ExposureRow.taken_at, ImageMeasure.measured_at)
        .join(ImageMeasure, col(ImageMeasure.image_id) == col(ExposureRow.image_id))
        .where(
            ImageMeasure.practice_id == scope.practice_id,
            ExposureRow.receptor_id == receptor_id,
            col(ExposureRow.set_aside_reason).is_(None),
        )
        .order_by(col(ExposureRow.taken_at).desc())
        .limit(NEWEST)
    )
    return tuple(tuple(row) for row in scope.session.execute(counted))


def threshold_names() -> list[str]:
    """Every threshold that may be set, in the order of the list."""
    return list(reasoned_thresholds())


def normal_range_of(scope: PracticeScope, actor: Actor, receptor_id: str) -> list[NormalMeasure]:
    """The receptor's own range of every measurement, by robust statistics; empty below `ENOUGH` images."""
    require(actor, CHAIRSIDE, "see what is normal for a receptor")
    receptor = scope.get(Receptor, receptor_id, "receptor")
    return normal_measures(_measurements(scope, receptor.id))


def _measurements(scope: PracticeScope, receptor_id: str) -> Sequence[dict[str, float]]:
    query = (
        select(ImageMeasure.measurements)
        .join(ExposureRow, col(ExposureRow.image_id) == col(ImageMeasure.image_id))
        .where(
            ImageMeasure.practice_id == scope.practice_id,
            ExposureRow.receptor_id == receptor_id,
            col(ExposureRow.set_aside_reason).is_(None),
        )
        .order_by(col(ExposureRow.taken_at).desc())
        .limit(NEWEST)
    )
    return scope.session.execute(query).scalars().all()


def normal_measures(measured: Iterable[Mapping[str, float]]) -> list[NormalMeasure]:
    """Median and robust range of each measurement."""
    normal = learn_normal(measured) or {}
    return [
        NormalMeasure(
            name=name,
            median=usual.middle,
            low=usual.middle - BEYOND * usual.deviation,
            high=usual.middle + BEYOND * usual.deviation,
            images=usual.images,
        )
        for name, usual in sorted(normal.items())
    ]
