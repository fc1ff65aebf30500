"""What the review of one image shows: the picture, what its slot promises, and what may be wrong with it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from app.core import targets
from app.core.exposures import TAKES_AWAY
from app.core.numbering import Numbering, shown
from app.core.reading import Reading
from app.core.targets import KINDS, Target, TargetKind
from app.core.teeth import arch, place
from app.exchange.shared_data import projections, technique_errors
from app.storage.series import ExposureRow
from app.web.pages.chairside_board import Strip, strip_of
from app.web.pages.chairside_facts import SeriesFacts
from app.web.pages.chairside_findings import FindingLine, decided_codes, finding_lines
from app.web.pages.chairside_mount import Film, film_of
from app.web.rendering import FieldError, View

KIND_TITLES: dict[TargetKind, str] = {
    "contact": "Contacts",
    "crown": "Crowns",
    "apex": "Apices",
    "distal": "Free distal",
    "ridge": "Ridges",
}

_NEIGHBOURHOOD = 2
"""How many places beyond the slot's own teeth the list of what it also shows reaches."""


@dataclass(frozen=True, kw_only=True)
class TargetChoice:
    """One promised target.

    Parameters
    ----------
    code : the shortfall that took it away, empty while it is shown
    elsewhere : other images that show it, in words
    """

    target: Target
    kind: TargetKind
    text: str
    label: str
    code: str
    elsewhere: str


@dataclass(frozen=True, kw_only=True)
class FaultChoice:
    """One technique error; ``takes`` are the kinds that it takes away by itself."""

    code: str
    name: str
    look: str
    takes: tuple[TargetKind, ...]
    chosen: bool


@dataclass(frozen=True, kw_only=True)
class AlsoChoice:
    """A target of the neighbourhood that the slot does not promise."""

    target: Target
    label: str
    chosen: bool
    gap: bool


@dataclass(frozen=True, kw_only=True)
class Looking:
    """How the image is looked at: shares of the grey range shown black and white, and how it is turned."""

    window_low: float
    window_high: float
    inverted: bool
    quarter_turns: int
    mirrored: bool

    @property
    def slope(self) -> float:
        """Of the line from grey to shown grey."""
        slope = 1 / (self.window_high - self.window_low)
        return round(-slope if self.inverted else slope, 4)

    @property
    def intercept(self) -> float:
        """Of the same line."""
        start = -self.window_low / (self.window_high - self.window_low)
        return round(1 - start if self.inverted else start, 4)


@dataclass(frozen=True, kw_only=True)
class ReviewView(View):
    """The review of one image."""

    strip: Strip
    film: Film
    looking: Looking
    reviewed: bool
    review_words: str
    groups: tuple[tuple[str, tuple[TargetChoice, ...]], ...]
    faults: tuple[FaultChoice, ...]
    also: tuple[AlsoChoice, ...]
    acceptable: tuple[str, ...]
    films: tuple[Film, ...]
    findings: tuple[FindingLine, ...]
    before: str
    after: str
    is_open: bool


def review_view(facts: SeriesFacts, row: ExposureRow, errors: tuple[FieldError, ...] = ()) -> ReviewView:
    """The review of an image of a series."""
    in_order = _in_slots(facts)
    here = next((index for index, each in enumerate(in_order) if each.id == row.id), 0)
    film = film_of(facts, row)
    slot = facts.template.slot(row.slot) if row.slot is not None else None
    technique = projections().get(slot.projection or "") if slot is not None else None
    codes = _codes(facts, row)
    for target, code in decided_codes(facts, row).items():
        codes.setdefault(target, code)
    return ReviewView(
        heading=film.name,
        errors=errors,
        strip=strip_of(facts),
        film=film,
        looking=looking_of(row),
        reviewed=row.reviewed,
        review_words=_review_words(facts, row),
        groups=tuple(_groups(facts, row, codes)),
        faults=tuple(_faults(row, set(codes.values()))),
        also=tuple(_also(facts, row)),
        acceptable=technique.acceptable if technique is not None else (),
        films=tuple(film_of(facts, each) for each in in_order),
        findings=finding_lines(facts, row),
        before=f"/exposures/{in_order[here - 1].id}/review" if here > 0 else "",
        after=f"/exposures/{in_order[here + 1].id}/review" if here + 1 < len(in_order) else "",
        is_open=facts.is_open and row.set_aside_reason is None and row.slot is not None,
    )


def looking_of(row: ExposureRow | None) -> Looking:
    """How the image is looked at; without one, how an image is looked at that nobody has touched."""
    view = row.view if row is not None else {}
    return Looking(
        window_low=float(view.get("window_low", 0.0)),
        window_high=float(view.get("window_high", 1.0)),
        inverted=bool(view.get("inverted", False)),
        quarter_turns=int(view.get("quarter_turns", 0)),
        mirrored=bool(view.get("mirrored", False)),
    )


def _in_slots(facts: SeriesFacts) -> list[ExposureRow]:
    order = {slot.id: number for number, slot in enumerate(facts.template.slots)}
    placed = [each for each in facts.counted if each.slot is not None]
    return sorted(placed, key=lambda each: (order[str(each.slot)], each.position))


def _review_words(facts: SeriesFacts, row: ExposureRow) -> str:
    if row.set_aside_reason is not None:
        return f"Set aside: {row.set_aside_reason}."
    if row.slot is None:
        return "In no slot yet: give it one first."
    if not row.reviewed:
        return "Not reviewed."
    by = f" by {facts.person(row.reviewed_by)}" if row.reviewed_by else ""
    return f"Reviewed{by}: {film_of(facts, row).sign_words}."


def _codes(facts: SeriesFacts, row: ExposureRow) -> dict[Target, str]:
    """The shortfall of each promised target, as the review stands."""
    exposure = next((each for each in facts.series.exposures if each.id == row.id), None)
    if exposure is None:
        return {}
    lost = Reading(facts.series).lost(exposure)
    return {target: codes[0].value for target, codes in lost.items()}


def _groups(
    facts: SeriesFacts, row: ExposureRow, codes: dict[Target, str]
) -> Iterator[tuple[str, tuple[TargetChoice, ...]]]:
    if row.slot is None:
        return
    reading = Reading(facts.series)
    promised = reading.in_order(reading.promised(row.slot))
    names = facts.image_names()
    for kind in ("contact", "distal", "crown", "apex", "ridge"):
        choices = [
            TargetChoice(
                target=target,
                kind=targets.kind(target),
                text=short_text(target, facts.series.numbering),
                label=targets.label(target, facts.series.numbering),
                code=codes.get(target, ""),
                elsewhere=", ".join(
                    names.get(each, each)
                    for each in facts.audited.audit.coverage.get(target, ())
                    if each != row.id
                ),
            )
            for target in promised
            if targets.kind(target) == kind
        ]
        if choices:
            yield KIND_TITLES[choices[0].kind], tuple(choices)


def short_text(target: Target, numbering: Numbering) -> str:
    """The target under a heading that names its kind.

    Examples
    --------
    >>> short_text(Target("apex:16:MB"), Numbering.ISO3950)
    '16 MB'
    """
    names = "–".join(shown(tooth, numbering) for tooth in targets.teeth(target))
    root = targets.root(target)
    return names if root in (None, "R") else f"{names} {root}"


def _faults(row: ExposureRow, in_use: set[str]) -> Iterator[FaultChoice]:
    whole = {each["code"] for each in row.shortfalls if each.get("targets") is None}
    for code, error in technique_errors().items():
        yield FaultChoice(
            code=code.value,
            name=error.name,
            look=error.look,
            takes=tuple(kind for kind in KINDS if kind in TAKES_AWAY[code]),
            chosen=code.value in whole or code.value in in_use,
        )


def _also(facts: SeriesFacts, row: ExposureRow) -> Iterator[AlsoChoice]:
    """What stands near the slot's own teeth and is not promised."""
    if row.slot is None:
        return
    slot = facts.template.slot(row.slot)
    promised = Reading(facts.series).promised(row.slot)
    near: dict[str, list[int]] = {}
    for target in slot.shows:
        for tooth in targets.teeth(target):
            near.setdefault(arch(tooth), []).append(place(tooth).rank)
    open_gaps = facts.audited.audit.gap_targets()
    seen = set(row.also_shows)
    for target in facts.audited.audit.asked:
        if target in promised:
            continue
        ranks = [place(tooth).rank for tooth in targets.teeth(target)]
        row_ranks = near.get(arch(targets.teeth(target)[0]), [])
        close = bool(row_ranks) and all(
            min(row_ranks) - _NEIGHBOURHOOD <= rank <= max(row_ranks) + _NEIGHBOURHOOD for rank in ranks
        )
        if close or target in seen:
            yield AlsoChoice(
                target=target,
                label=targets.label(target, facts.series.numbering).rsplit(" (", 1)[0],
                chosen=target in seen,
                gap=target in open_gaps,
            )
