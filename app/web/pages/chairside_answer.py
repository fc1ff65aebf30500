"""The answer to a touch: which images show a target, or what an image shows."""

from __future__ import annotations

from dataclasses import dataclass

from app.core.coverage import TargetState
from app.core.targets import Target, label
from app.storage.series import ExposureRow
from app.web.choice import opened_field
from app.web.pages.chairside_chart import element_key, fault_name, why_gap
from app.web.pages.chairside_facts import SeriesFacts
from app.web.pages.chairside_mount import Film, film_of
from app.web.pages.chairside_words import brief_words
from app.web.seen.chairside import seen_image


@dataclass(frozen=True, kw_only=True)
class Loss:
    """An image that should show the target, and what took it away."""

    film: Film
    fault: str


@dataclass(frozen=True, kw_only=True)
class TargetAnswer:
    """Which images show a target."""

    target: Target
    key: str
    label: str
    state: TargetState
    words: str
    shown_by: tuple[Film, ...]
    lost_on: tuple[Loss, ...]


@dataclass(frozen=True, kw_only=True)
class ImageAnswer:
    """What an image shows.

    Parameters
    ----------
    moves : slots that it may be moved to: id and words (a swap is said)
    opened : what its forms show, hidden in them
    """

    film: Film
    taken: str
    shows: str
    lost: str
    faults: str
    retake_of: str
    set_aside: str
    set_aside_by: str
    moves: tuple[tuple[str, str], ...]
    opened: str


Answer = TargetAnswer | ImageAnswer


def answer_about(facts: SeriesFacts, *, target: str, image: str) -> Answer | None:
    """The answer about what was touched; None where nothing was, or nothing that this series knows."""
    if image:
        row = facts.audited.exposure(image)
        return _about_image(facts, row) if row is not None else None
    audit = facts.audited.audit
    known = Target(target)
    state = audit.state_of(known)
    return _about_target(facts, known, state) if state != "not_asked" else None


def _about_target(facts: SeriesFacts, target: Target, state: TargetState) -> TargetAnswer:
    audit = facts.audited.audit
    rows = {each.id: each for each in facts.counted}
    gap = audit.gap(target)
    if gap is not None:
        words = why_gap(gap, facts.image_names())
    elif state == "exempt":
        words = next(each.reason for each in audit.exempt if each.target == target)
    else:
        words = ""
    text = label(target, facts.series.numbering)
    return TargetAnswer(
        target=target,
        key=element_key(target),
        label=text[:1].upper() + text[1:],
        state=state,
        words=words,
        shown_by=tuple(film_of(facts, rows[each]) for each in audit.coverage.get(target, ())),
        lost_on=tuple(
            Loss(film=film_of(facts, rows[loss.exposure]), fault=fault_name(loss.code)) for loss in gap.seen_on
        )
        if gap is not None
        else (),
    )


def _about_image(facts: SeriesFacts, row: ExposureRow) -> ImageAnswer:
    audit = facts.audited.audit
    shows = [target for target in audit.asked if row.id in audit.coverage.get(target, ())]
    lost = [gap.target for gap in audit.gaps if any(loss.exposure == row.id for loss in gap.seen_on)]
    film = film_of(facts, row)
    repeated = facts.audited.exposure(row.retake_of) if row.retake_of else None
    return ImageAnswer(
        film=film,
        taken=f"{facts.person(row.operator_id)}, {row.taken_at.astimezone():%H:%M}",
        shows=brief_words(shows, facts.series) if shows else "",
        lost=brief_words(lost, facts.series) if lost else "",
        faults=film.faults,
        retake_of=facts.image_name(repeated) if repeated is not None else "",
        set_aside=row.set_aside_reason or "",
        set_aside_by=facts.person(row.set_aside_by) if row.set_aside_reason else "",
        moves=tuple(_moves(facts, row)) if facts.is_open and row.set_aside_reason is None else (),
        opened=opened_field(seen_image(facts, row)),
    )


def _moves(facts: SeriesFacts, row: ExposureRow) -> list[tuple[str, str]]:
    made: list[tuple[str, str]] = []
    for slot in facts.template.slots:
        if slot.id == row.slot:
            continue
        there = [each for each in facts.in_slot(slot.id) if each.retake_of is None]
        if there and row.slot is not None:
            made.append((slot.id, f"{slot.title} (change places with image {there[0].position})"))
        elif not there:
            made.append((slot.id, slot.title))
    return made
