"""What the exposures of a period come to as estimated dose, and the collimation that each room has."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sqlmodel import case, col, func, select

from app.core.errors import InputError, did_you_mean
from app.core.quality.dose import COLLIMATIONS, DoseRange, ExposureCount, average_exposure, summed
from app.exchange.dose_data import dose_table
from app.storage.columns import now
from app.storage.grading import CollimationChoice
from app.storage.practice import Receptor, Room
from app.storage.practice_scope import PracticeScope
from app.storage.series import ExposureRow
from app.work.actor import CHAIRSIDE, DENTISTS, Actor, require
from app.work.grading_draw import bounds_of
from app.work.practice import RECEPTOR_KINDS
from app.work.quality_figures import overview
from app.work.quality_period import Period


@dataclass(frozen=True, kw_only=True)
class RadiationLine:
    """The exposures made with one kind of receptor behind one collimation.

    Parameters
    ----------
    repeats : of these, how many repeated an earlier image
    one, every, again : estimated dose of one exposure, of all of them, and of the repeats
    """

    receptor: str
    collimation: str
    exposures: int
    repeats: int
    one: DoseRange
    every: DoseRange
    again: DoseRange


@dataclass(frozen=True, kw_only=True)
class Radiation:
    """A period's exposures as count and as estimated dose.

    Parameters
    ----------
    own_only : whether these are only the exposures of the person who asks
    average : one exposure as they were made here, range in microsievert
    every_fault_count, plan_count : exposures that repeating every faulty view would have taken, and that the
        smallest plans took; ``saved`` is the difference, ``saved_dose`` the same at the average exposure
    notes : where the estimates of each receptor kind in use come from
    """

    period: Period
    own_only: bool
    lines: tuple[RadiationLine, ...]
    exposures: int
    repeats: int
    every: DoseRange
    again: DoseRange
    average: DoseRange
    every_fault_count: int
    plan_count: int
    saved: int
    saved_dose: DoseRange
    notes: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]


UNKNOWN = "not recorded"


def radiation_of(scope: PracticeScope, actor: Actor, period: Period) -> Radiation:
    """The exposures of a period; of an assistant their own."""
    require(actor, CHAIRSIDE, "see what the exposures come to")
    own_only = not actor.may(DENTISTS)
    counts = _counts(scope, period, actor.staff_id if own_only else "")
    table = dose_table()
    every, again = summed(table, counts)
    average = average_exposure(table, counts)
    plans = overview(scope, actor, period)
    kinds = dict.fromkeys(each.receptor_kind for each in counts)
    return Radiation(
        period=period,
        own_only=own_only,
        lines=tuple(_line(each) for each in counts),
        exposures=sum(each.exposures for each in counts),
        repeats=sum(each.retakes for each in counts),
        every=every,
        again=again,
        average=average,
        every_fault_count=plans.every_fault_count,
        plan_count=plans.plan_count,
        saved=plans.saved,
        saved_dose=average.times(max(0, plans.saved)),
        notes=tuple(
            (_title(kind), table.notes[kind] if kind else "computed: every kind of receptor, the widest range")
            for kind in kinds
        ),
        cautions=table.cautions,
    )


def _title(kind: str | None) -> str:
    return RECEPTOR_KINDS.get(kind, kind) if kind else UNKNOWN


def _line(each: ExposureCount) -> RadiationLine:
    one = dose_table().per_exposure(each.receptor_kind, each.collimation)
    return RadiationLine(
        receptor=_title(each.receptor_kind),
        collimation=each.collimation or UNKNOWN,
        exposures=each.exposures,
        repeats=each.retakes,
        one=one,
        every=one.times(each.exposures),
        again=one.times(each.retakes),
    )


def _counts(scope: PracticeScope, period: Period, operator_id: str) -> list[ExposureCount]:
    """Exposures of the period by receptor kind and the collimation of their room; set-aside files are none."""
    begin, end = bounds_of(period.first, period.last)
    repeats = func.sum(case((col(ExposureRow.retake_of).is_not(None), 1), else_=0))
    query = (
        select(Receptor.kind, ExposureRow.room_id, func.count(), repeats)
        .select_from(ExposureRow)
        .join(Receptor, col(Receptor.id) == ExposureRow.receptor_id, isouter=True)
        .where(
            ExposureRow.practice_id == scope.practice_id,
            col(ExposureRow.taken_at) >= begin,
            col(ExposureRow.taken_at) < end,
            col(ExposureRow.set_aside_reason).is_(None),
        )
        .group_by(col(Receptor.kind), col(ExposureRow.room_id))
    )
    if operator_id:
        query = query.where(ExposureRow.operator_id == operator_id)
    chosen = collimations(scope)
    sums: dict[tuple[str | None, str | None], tuple[int, int]] = {}
    for kind, room_id, exposures, again in scope.session.exec(query):
        key = (kind, chosen.get(room_id) or chosen.get(None))
        before = sums.get(key, (0, 0))
        sums[key] = (before[0] + exposures, before[1] + int(again or 0))
    return [
        ExposureCount(receptor_kind=kind, collimation=beam, exposures=made, retakes=again)
        for (kind, beam), (made, again) in sorted(sums.items(), key=lambda item: -item[1][0])
    ]


def collimations(scope: PracticeScope) -> dict[str | None, str]:
    """The collimation chosen for each room; under None that of the practice, for rooms without their own."""
    return {each.room_id: each.collimation for each in scope.all(scope.select(CollimationChoice))}


def choose_collimation(
    scope: PracticeScope, actor: Actor, *, practice: str, rooms: Mapping[str, str]
) -> dict[str | None, str]:
    """Keep what limits the beam.

    Parameters
    ----------
    practice : rectangular, round, or empty where it is not known
    rooms : the same by room id; empty where the room follows the practice

    Raises
    ------
    InputError
        Another word, at ``practice`` or ``room:ID``.
    NotFound
        A room of another practice.
    """
    require(actor, DENTISTS, "choose the collimation")
    wanted: list[tuple[str | None, str, str]] = [(None, practice, "practice")]
    wanted += [(scope.get(Room, room_id, "room").id, beam, f"room:{room_id}") for room_id, beam in rooms.items()]
    rows = {each.room_id: each for each in scope.all(scope.select(CollimationChoice))}
    for room_id, beam, path in wanted:
        if beam and beam not in COLLIMATIONS:
            raise InputError(
                path,
                f'"{beam}" is no collimation. Choose rectangular, round, or leave it open.'
                + did_you_mean(beam, COLLIMATIONS),
            )
        row = rows.get(room_id)
        if not beam:
            if row is not None:
                scope.session.delete(row)
        elif row is None:
            scope.add(CollimationChoice(room_id=room_id, collimation=beam, chosen_by=actor.staff_id))
        elif row.collimation != beam:
            row.collimation, row.chosen_by, row.chosen_at = beam, actor.staff_id, now()
            scope.session.add(row)
    scope.session.flush()
    return collimations(scope)
