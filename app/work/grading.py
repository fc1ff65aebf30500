"""A random sample of exposures is graded a second time, blind to the first reading.

The first grade is what the review says, kept as it stood at the draw; the second is given by somebody who did not
review the image. Who reads is shown the image and its view, nothing of the first reading.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import col, func, select

from app.core.errors import InputError
from app.exchange.quality_targets import grading_schemes
from app.storage.columns import now
from app.storage.grading import GradingItem, GradingSample
from app.storage.people import Staff
from app.storage.practice_scope import NotFound, PracticeScope
from app.storage.series import ExposureRow, ImageRow, SeriesRow
from app.work.actor import CHAIRSIDE, Actor, require
from app.work.audit_series import frozen_template


@dataclass(frozen=True, kw_only=True)
class SampleProgress:
    """A sample and how far it has been read.

    Parameters
    ----------
    waiting_for_me : images that the asking person may still read
    own : images not read that this person reviewed first, so that somebody else must read them
    """

    row: GradingSample
    drawn_by: str
    read: int
    waiting_for_me: int
    own: int

    @property
    def finished(self) -> bool:
        """Whether every image has its second reading."""
        return self.read == self.row.size


@dataclass(frozen=True, kw_only=True)
class BlindImage:
    """All that a second reader sees of a drawn image.

    Parameters
    ----------
    quarter_turns, mirrored : how the picture is turned to stand as it is usually looked at
    given : the second grade where this person has given it already
    """

    sample_id: str
    position: int
    size: int
    scheme: str
    sha256: str
    width: int
    height: int
    quarter_turns: int
    mirrored: bool
    view_title: str
    projection: str
    given: str | None


def samples(scope: PracticeScope, actor: Actor) -> list[SampleProgress]:
    """Every sample of the practice, the newest first."""
    require(actor, CHAIRSIDE, "see grading samples")
    rows = scope.all(
        scope.select(GradingSample).order_by(col(GradingSample.drawn_at).desc(), col(GradingSample.id))
    )
    return [_progress(scope, actor, row) for row in rows]


def sample_progress(scope: PracticeScope, actor: Actor, sample_id: str) -> SampleProgress:
    """One sample and how far it has been read."""
    require(actor, CHAIRSIDE, "see grading samples")
    return _progress(scope, actor, scope.get(GradingSample, sample_id, "grading sample"))


def _progress(scope: PracticeScope, actor: Actor, row: GradingSample) -> SampleProgress:
    unread = (
        select(func.count())
        .select_from(GradingItem)
        .where(
            GradingItem.practice_id == scope.practice_id,
            GradingItem.sample_id == row.id,
            col(GradingItem.second_grade).is_(None),
        )
    )
    left = scope.session.exec(unread).one()
    own = scope.session.exec(unread.where(GradingItem.first_reader == actor.staff_id)).one()
    drawn_by = scope.find(Staff, row.drawn_by)
    return SampleProgress(
        row=row,
        drawn_by=drawn_by.name if drawn_by is not None else "",
        read=row.size - left,
        waiting_for_me=left - own,
        own=own,
    )


def next_to_read(scope: PracticeScope, actor: Actor, sample_id: str, *, after: int = 0) -> int | None:
    """Position of the next image that this person may read, past the end from the beginning; None at the end."""
    require(actor, CHAIRSIDE, "read a grading sample")
    scope.get(GradingSample, sample_id, "grading sample")
    waiting = scope.all(
        scope.select(GradingItem)
        .where(
            GradingItem.sample_id == sample_id,
            col(GradingItem.second_grade).is_(None),
            col(GradingItem.first_reader) != actor.staff_id,
        )
        .order_by(col(GradingItem.position))
    )
    later = (each.position for each in waiting if each.position > after)
    return next(later, waiting[0].position if waiting else None)


def image_to_read(scope: PracticeScope, actor: Actor, sample_id: str, position: int) -> BlindImage:
    """What the second reader is shown of an image: nothing of the first reading.

    Raises
    ------
    InputError
        This person reviewed the image first, or somebody else has read it.
    """
    require(actor, CHAIRSIDE, "read a grading sample")
    sample, item = _item(scope, actor, sample_id, position)
    exposure = scope.get(ExposureRow, item.exposure_id, "image")
    image = scope.get(ImageRow, exposure.image_id, "image")
    slot = frozen_template(scope.get(SeriesRow, exposure.series_id, "series")).slot(str(exposure.slot))
    return BlindImage(
        sample_id=sample.id,
        position=item.position,
        size=sample.size,
        scheme=sample.scheme,
        sha256=image.sha256,
        width=image.width,
        height=image.height,
        quarter_turns=int(exposure.view.get("quarter_turns", 0)),
        mirrored=bool(exposure.view.get("mirrored", False)),
        view_title=slot.title,
        projection=slot.projection or "",
        given=item.second_grade,
    )


def keep_second_reading(
    scope: PracticeScope,
    actor: Actor,
    sample_id: str,
    position: int,
    grade: str,
    *,
    at: datetime | None = None,
) -> GradingItem:
    """Keep the second grade of an image; the reader may change it while the sample is not finished.

    Raises
    ------
    InputError
        An unknown grade; this person's own first reading; somebody else's second; a finished sample.
    """
    require(actor, CHAIRSIDE, "read a grading sample")
    sample, item = _item(scope, actor, sample_id, position)
    known = [each.code for each in grading_schemes()[sample.scheme].grades]
    if grade not in known:
        raise InputError("grade", f'"{grade}" is no grade of this scheme. Choose {" or ".join(known)}')
    if item.second_grade is not None and _progress(scope, actor, sample).finished:
        raise InputError("grade", "every image of this sample is read, so its readings stay. Draw a new sample")
    item.second_grade = grade
    item.second_reader = actor.staff_id
    item.second_read_at = at or now()
    scope.session.add(item)
    scope.session.flush()
    return item


def _item(scope: PracticeScope, actor: Actor, sample_id: str, position: int) -> tuple[GradingSample, GradingItem]:
    sample = scope.get(GradingSample, sample_id, "grading sample")
    item = scope.first(
        scope.select(GradingItem).where(GradingItem.sample_id == sample.id, GradingItem.position == position)
    )
    if item is None:
        raise NotFound(f"this sample has {sample.size} images, none numbered {position}. Choose one from its page")
    if item.first_reader == actor.staff_id:
        raise InputError("position", f"you reviewed image {position} first. Leave it to a colleague")
    if item.second_reader not in (None, actor.staff_id):
        raise InputError("position", f"a colleague has read image {position}. Go on with the next")
    return sample, item
