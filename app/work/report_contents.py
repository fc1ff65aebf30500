"""The sections of a quality report, in the order in which one asks: what, how many, how sure, what then."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from app.core.quality.rates import SMALL_DENOMINATOR
from app.core.quality.targets import VERDICT_WORDS
from app.exchange.dose_data import dose_table
from app.exchange.quality_targets import grading_schemes
from app.reports.quality_report import QualityReport, ReportChart, ReportSection
from app.work import report_tables as tables
from app.work.grading_agreement import METHOD_NOTE, Agreement
from app.work.grading_draw import METHODS
from app.work.quality_period import DEFINITIONS, MEASURES
from app.work.report_figures import ReportFigures

TITLE = "Quality of intraoral radiographs"

NAMES = {"full": "Names", "initials": "Initials"}
"""How a report names operators; the dentist chooses."""

DEFINED = {
    **MEASURES,
    "missed": "Series closed incomplete",
    "retakes_missed": "Retakes missed",
    "saved": "Exposures spared",
}

Draw = Callable[[ReportFigures, Mapping[str, str]], Mapping[str, Sequence[ReportChart]]]
"""Makes the charts by section, from the figures and the names by operator id; the door that asks has the means."""


@dataclass(frozen=True, kw_only=True)
class Written:
    """What the dentist adds to the figures.

    Parameters
    ----------
    conclusions, actions : paragraphs
    names : full or initials
    """

    conclusions: tuple[str, ...]
    actions: tuple[str, ...]
    names: str


def shown_names(names: Mapping[str, str], how: str) -> dict[str, str]:
    """How each operator is named, by id.

    Examples
    --------
    >>> shown_names({"1": "Dr Ada Lom", "2": "Ann Lee", "3": "Al Lom"}, "initials")
    {'1': 'AL 1', '2': 'AL 2', '3': 'AL 3'}
    """
    if how == "full":
        return dict(names)
    short = {
        key: "".join(word[0] for word in name.split() if word.rstrip(".") != "Dr") for key, name in names.items()
    }
    twins = list(short.values())
    found: dict[str, str] = {}
    for key, letters in short.items():
        number = 1 + sum(short[earlier] == letters for earlier in found)
        found[key] = f"{letters} {number}" if twins.count(letters) > 1 else letters
    return found


def quality_report(
    figures: ReportFigures,
    written: Written,
    charts: Mapping[str, Sequence[ReportChart]],
    *,
    made_at: str,
    signed_by: str = "",
    signed_at: str = "",
) -> QualityReport:
    """The whole report; without a signer a draft."""
    shown_as = operators_shown(figures, written.names)
    sections = (
        _counted(figures),
        _rates(figures, charts.get("rates", ())),
        _over_time(figures, charts.get("over-time", ())),
        _operators(figures, shown_as, charts.get("operators", ())),
        _targets(figures),
        _readings(figures),
        _radiation(figures),
        _limits(),
        _sources(figures),
    )
    return QualityReport(
        title=TITLE,
        practice=figures.practice,
        period=figures.period.text,
        summary=_summary(figures),
        sections=sections,
        conclusions=written.conclusions,
        actions=written.actions,
        made_at=made_at,
        signed_by=signed_by,
        signed_at=signed_at,
    )


def operators_shown(figures: ReportFigures, how: str) -> dict[str, str]:
    """How the report names each operator, by id."""
    return shown_names({line.operator_id: line.name for line in figures.comparison.lines}, how)


def _summary(figures: ReportFigures) -> tuple[tuple[str, str], ...]:
    whole = figures.overview.whole
    verdicts = [
        f"{line.grade}, {tables.target_words(line.target)}: {VERDICT_WORDS[line.verdict]}"
        for line in figures.grades.lines
    ]
    read = figures.agreements
    return (
        ("Exposures made", str(whole.exposures)),
        ("Images retaken", tables.rate_words(whole.retake)),
        ("Images not diagnostic", tables.rate_words(whole.non_diagnostic)),
        ("Avoidable retakes", tables.rate_words(whole.avoidable)),
        ("Series closed incomplete", tables.rate_words(figures.overview.missed)),
        ("Targets", "; ".join(verdicts) or "no scheme chosen"),
        ("Second reading", "; ".join(map(_kappa_words, read)) or "no sample of this period has been read"),
        ("Estimated dose of the repeats", f"{figures.radiation.again.words()} over all patients together"),
    )


def _kappa_words(found: Agreement) -> str:
    state = "" if found.finished else f" (only {found.read} of {found.sample.size} read)"
    if found.kappa is None or found.kappa.value is None:
        return f"{tables.counted(found.equal)} graded alike; kappa undefined{state}"
    interval = found.kappa.interval
    around = f", 95 % interval {interval.low:.2f} to {interval.high:.2f}" if interval else ""
    return f"{tables.counted(found.equal)} graded alike, Cohen's kappa {found.kappa.value:.2f}{around}{state}"


def _counted(figures: ReportFigures) -> ReportSection:
    seen = figures.overview
    days = (
        f"The first exposure counted was made on {tables.day_words(seen.first_day)}, the last on "
        f"{tables.day_words(seen.last_day)}."
        if seen.first_day and seen.last_day
        else "No exposure was made in this period."
    )
    return ReportSection(
        key="counted",
        title="What is counted, and how",
        words=(
            f"This report counts the intraoral radiographs of {figures.practice} from "
            f"{tables.day_words(figures.period.first)} to {tables.day_words(figures.period.last)}. {days}",
            "An image is reviewed by a person, who says which of the structures that its view should show are not "
            "shown, and why. Everything below is counted from those reviews and from the record of exposures.",
            "A rate stands with what was counted, what it was counted from, and a 95 % interval (Wilson). Where "
            f"fewer than {SMALL_DENOMINATOR} stand beneath the line, the number is said to be small.",
        ),
        facts=tuple((DEFINED.get(key, key), words) for key, words in DEFINITIONS.items()),
    )


def _rates(figures: ReportFigures, charts: Sequence[ReportChart]) -> ReportSection:
    seen = figures.overview
    return ReportSection(
        key="rates",
        title="Rates of the period",
        facts=(
            ("Exposures", str(seen.whole.exposures)),
            ("Reviewed", str(seen.whole.reviewed)),
            ("Images retaken", tables.rate_words(seen.whole.retake)),
            ("Images not diagnostic", tables.rate_words(seen.whole.non_diagnostic)),
            ("Avoidable retakes", tables.rate_words(seen.whole.avoidable)),
            ("Series closed incomplete", tables.rate_words(seen.missed)),
            ("Retakes missed in them", str(seen.retakes_missed)),
        ),
        charts=tuple(charts),
        tables=(
            tables.reasons_table(figures.by["reason"]),
            tables.figures_table("By region", "Region", figures.by["region"]),
            tables.figures_table("By receptor", "Receptor", figures.by["receptor"]),
            tables.figures_table("By age of the patient", "Age", figures.by["age_group"]),
        ),
    )


def _over_time(figures: ReportFigures, charts: Sequence[ReportChart]) -> ReportSection:
    return ReportSection(
        key="over-time",
        title="Over time",
        words=(
            "Months are compared on a control chart of shares (p-chart): limits at three standard errors, wider "
            "where fewer exposures were made. A signal asks for a look at what changed, not for blame.",
        ),
        facts=tuple((tables.day_words(note.day), note.text) for note in figures.notes),
        charts=tuple(charts),
        tables=(
            tables.months_table(figures.trend),
            tables.figures_table("By month", "Month", figures.by["month"]),
        ),
    )


def _operators(
    figures: ReportFigures, shown_as: Mapping[str, str], charts: Sequence[ReportChart]
) -> ReportSection:
    return ReportSection(
        key="operators",
        title="Operators",
        words=(
            "Some views are harder than others, and not everybody takes the same. So each operator is compared "
            "with what the practice's own rates would give for the views that they took (indirect standardisation "
            "by view and template). Funnel limits are drawn at 95 % and 99.8 %. The purpose is training.",
        ),
        charts=tuple(charts),
        tables=(tables.operators_table(figures.comparison, shown_as),),
    )


def _targets(figures: ReportFigures) -> ReportSection:
    scheme = figures.grades.scheme
    if scheme is None:
        return ReportSection(
            key="targets", title="Targets", words=("The practice had not chosen a grading scheme in this period.",)
        )
    return ReportSection(
        key="targets",
        title="Targets",
        words=(
            f"Scheme: {scheme.title}. Standing: {scheme.status}.",
            "A target is met, or not, only where the whole 95 % interval lies on one side of it; else there are "
            "too few images to tell. A grade is not a decision to retake.",
            f"Not reviewed, and so without a grade: {figures.grades.ungraded}.",
        ),
        tables=(tables.grades_table(figures.grades),),
    )


def _readings(figures: ReportFigures) -> ReportSection:
    if not figures.agreements:
        return ReportSection(
            key="readings",
            title="Second readings",
            words=("No sample drawn within this period has been read a second time.",),
        )
    return ReportSection(
        key="readings",
        title="Second readings",
        words=(
            "A random sample was graded again by a person who had not reviewed the images and did not see the "
            "first grade. " + METHOD_NOTE,
        ),
        facts=tuple(
            (
                f"{each.sample.size} of {each.sample.pool_count} images, {METHODS[each.sample.method]}",
                f"{_kappa_words(each)}; seed of the draw {each.sample.seed}",
            )
            for each in figures.agreements
        ),
        tables=tuple(tables.agreement_table(each) for each in figures.agreements),
    )


def _radiation(figures: ReportFigures) -> ReportSection:
    found = figures.radiation
    spared = f", estimated at {found.saved_dose.words()}" if found.saved > 0 else ""
    return ReportSection(
        key="radiation",
        title="Radiation",
        words=(
            *found.cautions,
            f"To repeat every faulty or missing view would have taken {found.every_fault_count} exposures; the "
            f"smallest plans that close the same gaps take {found.plan_count}. The difference is {found.saved} "
            f"exposures{spared}.",
        ),
        facts=(
            ("All exposures", f"{found.exposures}, by published estimates {found.every.words()} together"),
            ("Of these repeats", f"{found.repeats}, {found.again.words()}"),
            ("One exposure as made here", found.average.words()),
            *((f"Estimates for {kind}", words) for kind, words in found.notes),
        ),
        tables=(tables.radiation_table(found),),
    )


def _limits() -> ReportSection:
    return ReportSection(
        key="limits",
        title="Methods and limits",
        words=(
            "Rates: Wilson score interval, two-sided 95 %, without continuity correction. Observed against "
            "expected: exact Poisson interval of the observed number. Kappa: large-sample interval.",
            "The figures are as good as the reviews. A fault that no reviewer noticed is not counted; the second "
            "reading shows how far two people agree.",
            "Many comparisons are made at once: about one in twenty 95 % intervals misses its value by chance "
            "alone. A single signal is a reason to look, not a finding.",
            "Files set aside (such as duplicates or images of another patient) are kept and not counted. An "
            "exposure once recorded cannot be deleted.",
            "This is a record of completeness and technical quality. It says nothing of disease, and whether an "
            "image is taken stays the dentist's decision for each patient.",
        ),
    )


def _sources(figures: ReportFigures) -> ReportSection:
    """Only what the report used: the scheme, and the dose estimates."""
    scheme = figures.grades.scheme
    used = [scheme] if scheme is not None else []
    used += [each.scheme for each in figures.agreements if each.scheme.id not in {one.id for one in used}]
    known = {each.id: each for each in grading_schemes().values()}
    unique = {each.id: known.get(each.id, each) for each in used}
    return ReportSection(
        key="sources",
        title="Sources",
        words=(
            "“verified” means that the source named was read when this program was made; “computed”, “from "
            "memory” and “common practice, no source” say what they say.",
        ),
        facts=(
            *((each.title, each.source) for each in unique.values()),
            *((f"Dose, {key}", what) for key, what in dose_table().sources.items()),
            ("Wilson interval", "Wilson EB, J Am Stat Assoc 1927;22:209-212 (from memory, not verified)"),
            ("Cohen's kappa", "Cohen J, Educ Psychol Meas 1960;20:37-46 (from memory, not verified)"),
        ),
    )
