"""From rows to the core's series and its audit; nothing of it is kept."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from app.core.coverage import Audit, audit
from app.core.dentition import Dentition, asked_targets
from app.core.exposures import Exposure, Shortfall, ShortfallCode
from app.core.numbering import Numbering
from app.core.series import Exemption, Policy, Series
from app.core.targets import Target, parse_target
from app.core.templates import Template
from app.exchange.shared_data import corrections
from app.exchange.template_file import read_template
from app.storage.practice_scope import PracticeScope
from app.storage.series import ExposureRow, SeriesRow
from app.work.charts import read_chart, write_chart

BITEWING_EXEMPTION = "not part of a bitewing examination"
"""Why the rest of the mouth is exempt where every required slot of a template is a bitewing."""


@dataclass(frozen=True, kw_only=True)
class AuditedSeries:
    """A series with its exposures and what the audit says of them."""

    row: SeriesRow
    exposures: Sequence[ExposureRow]
    """Every exposure in the order made, those set aside too."""
    series: Series
    audit: Audit

    def exposure(self, exposure_id: str) -> ExposureRow | None:
        """The row of an exposure of this series."""
        return next((row for row in self.exposures if row.id == exposure_id), None)


def exposures_of(scope: PracticeScope, series_id: str) -> Sequence[ExposureRow]:
    """Every exposure of a series, in the order made."""
    query = scope.select(ExposureRow).where(ExposureRow.series_id == series_id)
    return scope.all(query.order_by(ExposureRow.position))  # type: ignore[arg-type]  # a column, at class level


def audit_of(
    scope: PracticeScope,
    series_id: str,
    numbering: Numbering = Numbering.ISO3950,
) -> AuditedSeries:
    """The series with its audit, computed now.

    Raises
    ------
    NotFound
        No such series in this practice.
    """
    row = scope.get(SeriesRow, series_id, "series")
    rows = exposures_of(scope, series_id)
    series = core_series(row, rows, numbering)
    return AuditedSeries(row=row, exposures=rows, series=series, audit=audit(series, corrections()))


def core_series(row: SeriesRow, rows: Sequence[ExposureRow], numbering: Numbering = Numbering.ISO3950) -> Series:
    """The core's series of a row: its frozen template and chart, and every exposure not set aside."""
    template = frozen_template(row)
    dentition = read_chart(row.dentition)
    counted = [each for each in rows if each.set_aside_reason is None]
    known: set[str] = set()
    exposures: list[Exposure] = []
    for each in counted:
        exposures.append(_exposure(each, template, dentition, known))
        known.add(each.id)
    return Series(
        template=template,
        dentition=dentition,
        exposures=tuple(exposures),
        exempt=tuple(
            Exemption(target=parse_target(each["target"], "exempt"), reason=each["reason"]) for each in row.exempt
        ),
        policy=Policy(posterior_contacts=row.policy.get("posterior_contacts", "any")),
        numbering=numbering,
    )


def frozen_template(row: SeriesRow) -> Template:
    """The template as it was when the series began."""
    return _template_in(json.dumps(row.template))


@lru_cache(maxsize=64)
def _template_in(text: str) -> Template:
    # Reading checks some thousand targets; a practice uses a handful of templates all day.
    return read_template(json.loads(text))


def _exposure(row: ExposureRow, template: Template, dentition: Dentition, known: set[str]) -> Exposure:
    shows = slot_shows(template, row.slot, dentition)
    return Exposure(
        id=row.id,
        slot=row.slot,
        reviewed=row.reviewed,
        shortfalls=tuple(_shortfall(each, shows, dentition) for each in row.shortfalls),
        also_shows=tuple(parse_target(text, "also_shows") for text in row.also_shows),
        retake_of=row.retake_of if row.retake_of in known else None,
    )


def slot_shows(template: Template, slot: str | None, dentition: Dentition) -> frozenset[Target]:
    """What the slot lists, with this patient's roots."""
    if slot is None:
        return frozenset()
    return frozenset(each for target in template.slot(slot).shows for each in dentition.expand(target))


def _shortfall(data: dict[str, Any], shows: frozenset[Target], dentition: Dentition) -> Shortfall:
    code = ShortfallCode(data["code"])
    named = data.get("targets")
    if named is None:
        return Shortfall(code=code)
    targets = [parse_target(text, "targets") for text in named]
    standing = tuple(target for target in targets if all(each in shows for each in dentition.expand(target)))
    if targets and not standing:
        # The chart has changed under the review: until somebody looks again, take away all that the code takes.
        return Shortfall(code=code)
    return Shortfall(code=code, targets=standing)


def exemptions_for(template: Template, dentition: Dentition) -> list[dict[str, str]]:
    """What a series of this template need not show: for a bitewing set, what its required views do not show."""
    if any(slot.kind != "bitewing" for slot in template.required_slots):
        return []
    shown = {target for slot in template.required_slots for target in slot_shows(template, slot.id, dentition)}
    return [
        {"target": target, "reason": BITEWING_EXEMPTION}
        for target in asked_targets(dentition)
        if target not in shown
    ]


def follow_chart(scope: PracticeScope, row: SeriesRow, dentition: Dentition) -> None:
    """Have an open series use the chart as now edited; reviews that named what is gone are opened again."""
    template = frozen_template(row)
    newly_asked = set(asked_targets(dentition)) - set(asked_targets(read_chart(row.dentition)))
    row.dentition = write_chart(dentition)
    row.exempt = [each for each in row.exempt if each["reason"] != BITEWING_EXEMPTION] + exemptions_for(
        template, dentition
    )
    row.version += 1
    scope.changed(row, "dentition", "exempt")
    for exposure in exposures_of(scope, row.id):
        shows = slot_shows(template, exposure.slot, dentition)
        named = {
            each
            for shortfall in exposure.shortfalls
            for text in shortfall.get("targets") or ()
            for each in dentition.expand(parse_target(text, "targets"))
        }
        # What nobody could have looked for when the image was reviewed must be looked for now.
        if not named <= shows or newly_asked & shows:
            exposure.reviewed = False
            scope.session.add(exposure)
