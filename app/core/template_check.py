"""What a template covers of a full dentition, and of a mouth without teeth.

The dentition in question is the one asked about, else the one that the template fits best: permanent, mixed (the
first permanent molars, permanent incisors and primary teeth between them, with the successors unerupted) or
primary.
"""

from __future__ import annotations

from dataclasses import dataclass

from app.core.dentition import DENTITION_KINDS, Dentition, DentitionKind, ToothState, asked_targets
from app.core.reading import Reading
from app.core.series import Series
from app.core.targets import Target, ridge
from app.core.teeth import PERMANENT, PRIMARY, ordinal
from app.core.templates import Template


@dataclass(frozen=True, kw_only=True)
class TemplateCheck:
    """Which targets each slot covers, how often each is covered, and which are not.

    Parameters
    ----------
    dentition_kind : the full dentition that it was checked against
    covers : for each slot's id, the targets that a good image there shows
    times : for each target asked for, how many required slots show it
    not_covered : targets that no required slot shows
    supplementary_only : those of them that a supplementary slot shows
    ridges_not_covered : positions of the empty mouth whose bone no required slot shows
    """

    dentition_kind: DentitionKind
    covers: dict[str, tuple[Target, ...]]
    times: dict[Target, int]
    not_covered: tuple[Target, ...]
    supplementary_only: tuple[Target, ...]
    ridges_not_covered: tuple[Target, ...]

    @property
    def share_covered(self) -> float:
        """Share of the asked targets that the required slots show, 0 to 1."""
        return 1 - len(self.not_covered) / len(self.times)


def check_template(template: Template, dentition_kind: DentitionKind | None = None) -> TemplateCheck:
    """Compare what the template's slots show with what a full dentition asks for.

    Parameters
    ----------
    dentition_kind : the dentition to check against; None for the one of which the template covers the largest
        share (of equals, the first of permanent, mixed, primary)
    """
    if dentition_kind is not None:
        return _against(template, dentition_kind)
    return max((_against(template, kind) for kind in DENTITION_KINDS), key=lambda found: found.share_covered)


def _against(template: Template, kind: DentitionKind) -> TemplateCheck:
    dentition = full_dentition(kind)
    asked = asked_targets(dentition)
    reading = Reading(Series(template=template, dentition=dentition))
    covers = {slot.id: reading.in_order(reading.promised(slot.id)) for slot in template.slots}
    times = dict.fromkeys(asked, 0)
    for slot in template.required_slots:
        for target in covers[slot.id]:
            times[target] += 1
    not_covered = tuple(target for target, count in times.items() if count == 0)
    by_any = {target for shown in covers.values() for target in shown}
    positions = PRIMARY if kind == "primary" else PERMANENT
    listed = {target for slot in template.required_slots for target in slot.shows}
    return TemplateCheck(
        dentition_kind=kind,
        covers=covers,
        times=times,
        not_covered=not_covered,
        supplementary_only=tuple(target for target in not_covered if target in by_any),
        ridges_not_covered=tuple(ridge(tooth) for tooth in positions if ridge(tooth) not in listed),
    )


def full_dentition(kind: DentitionKind) -> Dentition:
    """A dentition with nothing missing, of the kind asked for."""
    if kind != "mixed":
        return Dentition(kind=kind)
    # Common practice, no source: the stage at which a mixed series is usually taken.
    erupted = [tooth for tooth in PERMANENT if ordinal(tooth) in (1, 2, 6)]
    coming = [tooth for tooth in PERMANENT if ordinal(tooth) in (3, 4, 5, 7)]
    primary = [tooth for tooth in PRIMARY if ordinal(tooth) in (3, 4, 5)]
    states = dict.fromkeys(erupted + primary, ToothState.PRESENT) | dict.fromkeys(coming, ToothState.UNERUPTED)
    return Dentition(kind="mixed", states=states)
