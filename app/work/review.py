"""A person confirms what an image shows: all that its slot promises, or what is missing and why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from app.core.errors import InputError, did_you_mean
from app.core.exposures import ShortfallCode
from app.core.targets import parse_target
from app.storage.columns import now
from app.storage.practice_scope import PracticeScope
from app.storage.series import ExposureRow, SeriesRow
from app.work.actor import CHAIRSIDE, Actor, require
from app.work.audit_series import core_series, exposures_of
from app.work.start_series import open_series
from app.work.text import checked_line


def review_exposure(
    scope: PracticeScope,
    actor: Actor,
    exposure_id: str,
    *,
    shortfalls: Sequence[Mapping[str, Any]] = (),
    also_shows: Sequence[str] = (),
    reason: str = "",
    at: datetime | None = None,
) -> ExposureRow:
    """Keep a review; without shortfalls the image shows all that its slot promises.

    Parameters
    ----------
    shortfalls : each with its ``code``, and ``targets`` (a list) where it took only some
    also_shows : targets seen beyond what the slot promises
    reason : why an earlier review is corrected; the earlier one stays in the history either way
    at : moment of the review; now by default

    Raises
    ------
    InputError
        Names the field: no slot yet, an unknown code, a target that the slot does not show.
    """
    require(actor, CHAIRSIDE, "review images")
    exposure = scope.get(ExposureRow, exposure_id, "image")
    row = open_series(scope, exposure.series_id)
    if exposure.set_aside_reason is not None:
        raise InputError("exposure", f"image {exposure.position} was set aside. Put it back before reviewing it")
    if exposure.slot is None:
        raise InputError("exposure", f"image {exposure.position} has no slot yet. Give it one, then review it")
    scope.because(checked_line(reason, "reason", empty=True))
    exposure.shortfalls = [_checked(each, index) for index, each in enumerate(shortfalls)]
    exposure.also_shows = [parse_target(text, f"also_shows[{index}]") for index, text in enumerate(also_shows)]
    exposure.reviewed = True
    exposure.reviewed_by = actor.staff_id
    exposure.reviewed_at = at or now()
    row.version += 1
    # Building the series once more checks every target against the slot.
    _check_against_slot(scope, exposure)
    scope.changed(exposure, "shortfalls", "also_shows")
    scope.session.add(row)
    return exposure


def _checked(data: Mapping[str, Any], index: int) -> dict[str, Any]:
    code = data.get("code")
    known = [each.value for each in ShortfallCode]
    if code not in known:
        raise InputError(
            f"shortfalls[{index}].code", "choose why the image does not show it." + did_you_mean(code, known)
        )
    targets = data.get("targets")
    if targets is None:
        return {"code": code}
    if not isinstance(targets, list | tuple):
        raise InputError(f"shortfalls[{index}].targets", "this must be a list of targets, like crown:16")
    return {"code": code, "targets": [parse_target(text, f"shortfalls[{index}].targets") for text in targets]}


def _check_against_slot(scope: PracticeScope, exposure: ExposureRow) -> None:
    row = scope.get(SeriesRow, exposure.series_id, "series")
    series = core_series(row, exposures_of(scope, row.id))
    shows = set(series.shown_by_slot(exposure.slot))
    for index, each in enumerate(exposure.shortfalls):
        for text in each.get("targets") or ():
            wrong = [t for t in series.dentition.expand(parse_target(text, "targets")) if t not in shows]
            if wrong:
                raise InputError(
                    f"shortfalls[{index}].targets",
                    f"this view does not show {wrong[0]}, so it cannot be missing from it. Choose from its list",
                )


def reopen_review(scope: PracticeScope, actor: Actor, exposure_id: str) -> ExposureRow:
    """Take a review back: the image covers nothing until it is reviewed again."""
    require(actor, CHAIRSIDE, "review images")
    exposure = scope.get(ExposureRow, exposure_id, "image")
    row = open_series(scope, exposure.series_id)
    exposure.reviewed = False
    exposure.reviewed_by = exposure.reviewed_at = None
    row.version += 1
    scope.session.add(exposure)
    scope.session.add(row)
    return exposure


def save_view(
    scope: PracticeScope,
    actor: Actor,
    exposure_id: str,
    *,
    window_low: float = 0.0,
    window_high: float = 1.0,
    inverted: bool = False,
    quarter_turns: int = 0,
    mirrored: bool = False,
) -> ExposureRow:
    """Keep how an image is looked at; the file stays as it came.

    Parameters
    ----------
    window_low, window_high : share of the grey range shown black and white, 0 to 1
    quarter_turns : turns of 90 degrees clockwise, 0 to 3
    mirrored : left and right exchanged, before turning
    """
    require(actor, CHAIRSIDE, "change how an image is shown")
    exposure = scope.get(ExposureRow, exposure_id, "image")
    if not 0.0 <= window_low < window_high <= 1.0:
        raise InputError("window", "the darkest grey must lie below the lightest, both from 0 to 1")
    if quarter_turns not in range(4):
        raise InputError("quarter_turns", "turns are counted 0 to 3")
    exposure.view = {
        "window_low": window_low,
        "window_high": window_high,
        "inverted": inverted,
        "quarter_turns": quarter_turns,
        "mirrored": mirrored,
    }
    scope.changed(exposure, "view")
    return exposure
