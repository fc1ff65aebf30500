"""The coverage chart as a page shows it: the drawing, and for each mark the words that say how it stands."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from app.core import targets
from app.core.coverage import Audit, Gap, GapReason, TargetState
from app.core.exposures import ShortfallCode
from app.core.numbering import shown
from app.core.series import Series
from app.core.targets import Target
from app.core.teeth import QUADRANT_NAMES, ROOT_NAMES, quadrant
from app.exchange.shared_data import technique_errors
from app.web.chart_drawing.chart import Chart, Mark, coverage_chart
from app.web.pages.chairside_words import brief_words

STATE_WORDS: dict[TargetState, str] = {
    "covered": "covered",
    "gap": "gap",
    "not_reviewed": "not reviewed",
    "exempt": "exempt",
    "not_asked": "not asked",
}
"""What a person reads for each state."""

REASON_WORDS = {
    "not_in_template": "no view of this series can show it",
    "not_reviewed": "its image waits for review",
    "not_shown": "not shown",
    "not_taken": "its view has not been taken",
}

QUIET: dict[GapReason, str] = {
    "not_taken": "Views not taken yet",
    "not_in_template": "No view of this series can show these",
}
"""Reasons whose gaps are said together, and their heading."""


@dataclass(frozen=True, kw_only=True)
class MarkView:
    """One mark with its words.

    Parameters
    ----------
    key : the target as it stands in an element id
    words : the whole sentence: what it is, how it stands, on which images
    shown_by, lost_on : ids of exposures
    taken : False for a gap whose view was never taken
    """

    mark: Mark
    key: str
    words: str
    shown_by: tuple[str, ...]
    lost_on: tuple[str, ...]
    taken: bool


@dataclass(frozen=True, kw_only=True)
class GapLine:
    """One line of the list beneath the chart: a gap, or the apices of one tooth lost alike."""

    targets: tuple[Target, ...]
    key: str
    label: str
    why: str
    state: TargetState


@dataclass(frozen=True, kw_only=True)
class GapGroup:
    """The gaps of one quadrant (a midline contact stands with the patient's right)."""

    title: str
    lines: tuple[GapLine, ...]


@dataclass(frozen=True, kw_only=True)
class QuietGaps:
    """Gaps that no image lost, said together: their view was never taken, or no view can show them."""

    title: str
    count: int
    lines: tuple[tuple[str, str], ...]


@dataclass(frozen=True, kw_only=True)
class LegendEntry:
    """A state with how many marks have it."""

    state: TargetState
    words: str
    count: int


@dataclass(frozen=True, kw_only=True)
class ChartView:
    """Everything the chart's template needs."""

    chart: Chart
    marks: tuple[MarkView, ...]
    legend: tuple[LegendEntry, ...]
    gaps: tuple[GapGroup, ...]
    quiet: tuple[QuietGaps, ...]
    verdict: str
    headline: str
    summary: str


def element_key(target: Target) -> str:
    """The target as part of an element id.

    Examples
    --------
    >>> element_key(Target("apex:16:MB"))
    'apex-16-MB'
    """
    return target.replace(":", "-")


def fault_name(code: str) -> str:
    """What a person reads for a shortfall code, in lower case for use within a sentence."""
    name = technique_errors()[ShortfallCode(code)].name
    return name[:1].lower() + name[1:]


def chart_view(audit: Audit, image_names: Mapping[str, str]) -> ChartView:
    """The chart of an audited series.

    Parameters
    ----------
    image_names : what a person calls each exposure, by id
    """
    lost = {gap.target for gap in audit.gaps if gap.seen_on}
    chart = coverage_chart(audit.series.dentition, audit.state_of, audit.series.numbering, lost)
    marks = tuple(_mark_view(mark, audit, image_names) for mark in chart.marks)
    counts = {state: sum(1 for mark in chart.marks if mark.state == state) for state in STATE_WORDS}
    said = STATE_WORDS | ({"gap": "gaps"} if counts["gap"] != 1 else {})
    return ChartView(
        chart=chart,
        marks=marks,
        legend=tuple(
            LegendEntry(state=state, words=words, count=counts[state])
            for state, words in said.items()
            if counts[state] or state in ("covered", "gap", "not_reviewed")
        ),
        gaps=_gap_groups(audit, image_names),
        quiet=tuple(_quiet_gaps(audit)),
        verdict=audit.verdict,
        headline=_headline(audit, counts),
        summary=", ".join(f"{counts[state]} {words}" for state, words in said.items() if counts[state]),
    )


def _headline(audit: Audit, counts: Mapping[TargetState, int]) -> str:
    if not audit.series.exposures:
        return "nothing taken yet"
    if not audit.gaps:
        return "all shown"
    if counts["gap"]:
        return "1 gap" if counts["gap"] == 1 else f"{counts['gap']} gaps"
    return f"{counts['not_reviewed']} to review"


def _mark_view(mark: Mark, audit: Audit, image_names: Mapping[str, str]) -> MarkView:
    gap = audit.gap(mark.target)
    shown_by = audit.coverage.get(mark.target, ())
    label = targets.label(mark.target, audit.series.numbering)
    words = f"{label[:1].upper()}{label[1:]}: {STATE_WORDS[mark.state]}"
    if shown_by:
        words += " by " + ", ".join(image_names.get(each, each) for each in shown_by)
    if gap is not None:
        words += f" – {why_gap(gap, image_names)}"
    elif mark.state == "exempt":
        words += " – " + next(each.reason for each in audit.exempt if each.target == mark.target)
    return MarkView(
        mark=mark,
        key=element_key(mark.target),
        words=words,
        shown_by=shown_by,
        lost_on=tuple(dict.fromkeys(loss.exposure for loss in gap.seen_on)) if gap is not None else (),
        taken=gap is None or gap.reason != "not_taken",
    )


def why_gap(gap: Gap, image_names: Mapping[str, str]) -> str:
    """Why a gap is one, with the images that lost it and how."""
    if not gap.seen_on:
        return REASON_WORDS[gap.reason]
    losses: dict[str, list[str]] = {}
    for loss in gap.seen_on:
        losses.setdefault(fault_name(loss.code), []).append(image_names.get(loss.exposure, loss.exposure))
    lost = "; ".join(f"{fault} on {', '.join(images)}" for fault, images in losses.items())
    return f"{lost}; {REASON_WORDS[gap.reason]}" if gap.reason == "not_reviewed" else lost


def _gap_groups(audit: Audit, image_names: Mapping[str, str]) -> tuple[GapGroup, ...]:
    alike: dict[tuple[str, ...], list[Gap]] = {}
    for gap in audit.gaps:
        if gap.reason in QUIET and not gap.seen_on:
            continue
        kind = targets.kind(gap.target)
        one = targets.teeth(gap.target)[0] if kind == "apex" else gap.target
        alike.setdefault((kind, one, gap.reason, why_gap(gap, image_names)), []).append(gap)
    groups: dict[str, list[GapLine]] = {}
    for (_, _, _, why), gaps in alike.items():
        first = gaps[0].target
        groups.setdefault(QUADRANT_NAMES[quadrant(targets.teeth(first)[0])], []).append(
            GapLine(
                targets=tuple(gap.target for gap in gaps),
                key=element_key(first),
                label=_line_label([gap.target for gap in gaps], audit.series),
                why=why,
                state=audit.state_of(first),
            )
        )
    return tuple(
        GapGroup(title=title[:1].upper() + title[1:], lines=tuple(lines)) for title, lines in groups.items()
    )


def _quiet_gaps(audit: Audit) -> Iterator[QuietGaps]:
    for reason, title in QUIET.items():
        of = [gap.target for gap in audit.gaps if gap.reason == reason and not gap.seen_on]
        quadrants: dict[str, list[Target]] = {}
        for target in of:
            quadrants.setdefault(QUADRANT_NAMES[quadrant(targets.teeth(target)[0])], []).append(target)
        if of:
            lines = tuple(
                (where[:1].upper() + where[1:], brief_words(some, audit.series))
                for where, some in quadrants.items()
            )
            yield QuietGaps(title=title, count=len(of), lines=lines)


def _line_label(of: list[Target], series: Series) -> str:
    if len(of) == 1:
        return targets.label(of[0], series.numbering).rsplit(" (", 1)[0]
    (tooth,) = targets.teeth(of[0])
    names = [ROOT_NAMES[str(targets.root(each))].removesuffix(" root") for each in of]
    whole = len(of) == len(series.dentition.roots_of(tooth))
    return f"apices of {shown(tooth, series.numbering)}, " + ("all roots" if whole else " and ".join(names))
