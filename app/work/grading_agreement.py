"""How far two readings of the same images agree: the table, the share of equal grades, and Cohen's kappa."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlmodel import col

from app.core.quality.agreement import Kappa, cohens_kappa, cross_table
from app.core.quality.rates import Rate, rate
from app.core.quality.targets import GradingScheme
from app.exchange.quality_targets import grading_schemes
from app.storage.grading import GradingItem, GradingSample
from app.storage.practice_scope import PracticeScope
from app.storage.series import ExposureRow, SeriesRow
from app.work.actor import CHAIRSIDE, DENTISTS, Actor, NotAllowed, require
from app.work.audit_series import frozen_template
from app.work.staff_names import staff_names

METHOD_NOTE = (
    "Kappa is the agreement beyond what chance alone would give with the two readers' own shares of each grade. "
    "Where nearly every image has the same grade, chance agreement is high and kappa low although the readers "
    "differ on few images: read it with the table."
)


@dataclass(frozen=True, kw_only=True)
class Agreement:
    """The two readings of a sample, as far as it is read.

    Parameters
    ----------
    table : images by first grade (rows) and second grade (columns), in the order of the scheme
    equal : share of images with the same grade twice
    kappa : None while nothing is read
    """

    sample: GradingSample
    scheme: GradingScheme
    read: int
    table: tuple[tuple[int, ...], ...]
    equal: Rate
    kappa: Kappa | None

    @property
    def finished(self) -> bool:
        """Whether every drawn image has its second reading."""
        return self.read == self.sample.size


@dataclass(frozen=True, kw_only=True)
class TwoReadings:
    """One image with both readings."""

    position: int
    exposure_id: str
    view_title: str
    first_grade: str
    first_reader: str
    second_grade: str
    second_reader: str


def agreement_of(scope: PracticeScope, actor: Actor, sample_id: str) -> Agreement:
    """The agreement of a sample; before its last image is read, for dentists only.

    Raises
    ------
    NotAllowed
        An assistant asks while images wait: whoever may still read should not know how the others were graded.
    """
    require(actor, CHAIRSIDE, "see how two readers agree")
    found = _agreement(scope, scope.get(GradingSample, sample_id, "grading sample"))
    if not found.finished and not actor.may(DENTISTS):
        raise NotAllowed("The result is shown when every image is read. Until then a dentist may see it.")
    return found


def agreements_within(scope: PracticeScope, actor: Actor, first: date, last: date) -> list[Agreement]:
    """The samples whose period lies within the days given, and of which something is read, oldest first."""
    require(actor, DENTISTS, "see every reading")
    rows = scope.all(
        scope.select(GradingSample)
        .where(col(GradingSample.from_day) >= first, col(GradingSample.to_day) <= last)
        .order_by(col(GradingSample.drawn_at), col(GradingSample.id))
    )
    return [each for each in (_agreement(scope, row) for row in rows) if each.read]


def _agreement(scope: PracticeScope, sample: GradingSample) -> Agreement:
    scheme = grading_schemes()[sample.scheme]
    pairs = [(each.first_grade, str(each.second_grade)) for each in _read(scope, sample.id)]
    table = cross_table(pairs, [each.code for each in scheme.grades])
    return Agreement(
        sample=sample,
        scheme=scheme,
        read=len(pairs),
        table=table,
        equal=rate(sum(one == two for one, two in pairs), len(pairs)),
        kappa=cohens_kappa(table) if pairs else None,
    )


def _read(scope: PracticeScope, sample_id: str) -> Sequence[GradingItem]:
    query = scope.select(GradingItem).where(
        GradingItem.sample_id == sample_id, col(GradingItem.second_grade).is_not(None)
    )
    return scope.all(query.order_by(col(GradingItem.position)))


def readings_that_differ(scope: PracticeScope, actor: Actor, sample_id: str) -> list[TwoReadings]:
    """The images of a finished sample that the two readers graded differently, to look at together."""
    if not agreement_of(scope, actor, sample_id).finished:
        return []
    items = [each for each in _read(scope, sample_id) if each.first_grade != each.second_grade]
    names = staff_names(scope)
    found: list[TwoReadings] = []
    for each in items:
        exposure = scope.get(ExposureRow, each.exposure_id, "image")
        template = frozen_template(scope.get(SeriesRow, exposure.series_id, "series"))
        found.append(
            TwoReadings(
                position=each.position,
                exposure_id=exposure.id,
                view_title=template.slot(exposure.slot).title if exposure.slot else "",
                first_grade=each.first_grade,
                first_reader=names.get(each.first_reader, ""),
                second_grade=str(each.second_grade),
                second_reader=names.get(str(each.second_reader), ""),
            )
        )
    return found
