"""Targets: the grading scheme that the practice has chosen, what the period came to, and how sure that is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import InputError
from app.core.quality.rates import Interval
from app.core.quality.targets import VERDICT_WORDS, GradeTarget, GradingScheme
from app.exchange.quality_targets import grading_schemes
from app.storage.practice_scope import PracticeScope
from app.storage.versions import Stamp
from app.web.choice import OPENED, check_overtaken, opened_field
from app.web.dependencies import CurrentActor, Posted, StoreDep
from app.web.formatting import shown_date
from app.web.notes import go_to
from app.web.pages.quality_address import Asked, AskedReview, ReviewScope, filters
from app.web.pages.quality_places import ReviewView, above
from app.web.pages.quality_tables import (
    RATE_COLUMNS,
    Cell,
    Column,
    DataTable,
    count,
    csv_answer,
    joined,
    plain,
    rate_cells,
    with_csv,
)
from app.web.rendering import FieldError, render
from app.web.seen.practice import seen_values
from app.work.actor import Actor
from app.work.overtaken import Seen
from app.work.quality_grades import GradeLine, GradeReport, grade_history, grade_report
from app.work.quality_record import choose_scheme, scheme_history
from app.work.staff_names import staff_names

router = APIRouter(include_in_schema=False)

CHOSEN_LABELS = {"?scheme": "Scheme", "?from": "In force from", "?own": "Targets"}

HERE = "/quality/targets"

RECEPTOR_WORDS = {"any": "all images", "digital": "digital images", "film": "film"}
BADGES = {"meets": "covered", "does_not_meet": "gap", "too_few": "not_reviewed"}

HISTORY_COLUMNS = (
    Column("Period", files=("First day", "Last day")),
    Column("Grade"),
    Column("Target", files=("Bound", "Target (share)")),
    Column("Counted", True),
    Column("Graded", True),
    *RATE_COLUMNS,
    Column("Verdict"),
)


@dataclass(frozen=True, kw_only=True)
class LineShown:
    """A target and its verdict in words."""

    title: str
    target: str
    counted: str
    interval: Interval | None
    interval_text: str
    verdict: str
    badge: str
    sentence: str


@dataclass(frozen=True, kw_only=True)
class SchemeChoice:
    """A published scheme as the form offers it; field names begin with its id."""

    scheme: GradingScheme
    in_force: bool
    targets: list[tuple[str, str, str]]
    reason: str
    from_day: str


@dataclass(frozen=True, kw_only=True)
class TargetsView(ReviewView):
    """Verdicts, history, and the choice."""

    scheme: GradingScheme | None
    lines: list[LineShown]
    ungraded: int
    history: DataTable
    choices: list[SchemeChoice]
    chosen: DataTable


def target_words(target: GradeTarget) -> str:
    """The target in words."""
    bound = "at least" if target.bound == "at_least" else "at most"
    return f"{bound} {100 * target.share:g} % of {RECEPTOR_WORDS[target.receptors]}"


@router.get(HERE)
def show_targets(request: Request, scope: ReviewScope, actor: CurrentActor, asked: AskedReview) -> Response:
    """Where the practice stands against its targets."""
    return _page(request, scope, actor, asked)


def _page(
    request: Request,
    scope: PracticeScope,
    actor: Actor,
    asked: Asked,
    typed: Mapping[str, str] | None = None,
    errors: tuple[FieldError, ...] = (),
    opened: str | None = None,
) -> Response:
    report = grade_report(scope, actor, asked.period)
    history = history_table(asked, grade_history(scope, actor, asked.period))
    chosen = chosen_table(scope, actor, asked)
    if asked.csv:
        return csv_answer(asked.csv, [history, chosen])
    view = TargetsView(
        heading="Targets",
        errors=errors,
        opened=opened_field(_seen(scope, actor)) if opened is None else opened,
        frame=above(scope, actor, asked, HERE, filters(scope, asked, HERE, by_operator=False), shared=True),
        scheme=report.scheme,
        lines=[line_shown(each) for each in report.lines],
        ungraded=report.ungraded,
        history=history,
        choices=scheme_choices(report.scheme, typed or {}),
        chosen=chosen,
    )
    return render(request, "pages/quality_targets.html", view, status=422 if errors else 200)


def _seen(scope: PracticeScope, actor: Actor) -> Seen:
    """What was chosen last: scheme, first day, own targets; a choice is a row of its own, so all is only shown."""
    history = scheme_history(scope, actor)
    newest = max(history, key=lambda each: each.chosen_at, default=None)
    if newest is None:
        return seen_values({"?scheme": "", "?from": "", "?own": ""}, CHOSEN_LABELS, None)
    schemes = grading_schemes()
    own = ", ".join(f"{key.partition(':')[0]} {100 * share:g} %" for key, share in newest.own_targets.items())
    fields = {
        "?scheme": schemes[newest.scheme_id].title if newest.scheme_id in schemes else newest.scheme_id,
        "?from": shown_date(newest.from_day),
        "?own": own or "as published",
    }
    return seen_values(fields, CHOSEN_LABELS, Stamp(newest.chosen_by, newest.chosen_at))


def line_shown(line: GradeLine) -> LineShown:
    """A target with its verdict, and what the verdict rests on."""
    rate = line.rate
    low_high = rate_cells(rate)[1].text
    sentence = {
        "meets": "The whole interval lies on the right side of the target.",
        "does_not_meet": "The whole interval lies on the wrong side of the target.",
        "too_few": "The interval reaches over the target: more images will tell.",
    }[line.verdict]
    return LineShown(
        title=f"{line.grade}: {line.title}",
        target=target_words(line.target),
        counted=f"{rate.numerator} of {rate.denominator} ({rate_cells(rate)[0].text})",
        interval=rate.interval,
        interval_text=low_high,
        verdict=VERDICT_WORDS[line.verdict],
        badge=BADGES[line.verdict],
        sentence=sentence if rate.denominator else "No image has been graded yet.",
    )


def history_table(asked: Asked, reports: tuple[GradeReport, ...]) -> DataTable:
    """Grades and verdicts of earlier periods beside this one."""
    return DataTable(
        key="grades",
        caption="History of grades",
        columns=HISTORY_COLUMNS,
        rows=[_history_row(report, line) for report in reports for line in report.lines],
        empty="No scheme was in force in this period. Choose one below.",
        csv=with_csv(asked.address(HERE), "grades"),
    )


def _history_row(report: GradeReport, line: GradeLine) -> tuple[Cell, ...]:
    return joined(
        (
            Cell(report.period.text, (report.period.first, report.period.last)),
            plain(f"{line.grade}: {line.title}"),
            Cell(target_words(line.target), (line.target.bound, line.target.share)),
            count(line.rate.numerator),
            count(line.rate.denominator),
        ),
        rate_cells(line.rate),
        (plain(VERDICT_WORDS[line.verdict]),),
    )


def chosen_table(scope: PracticeScope, actor: Actor, asked: Asked) -> DataTable:
    """Which scheme was chosen when, by whom and why."""
    names = staff_names(scope)
    schemes = grading_schemes()
    rows = []
    for each in scheme_history(scope, actor):
        title = schemes[each.scheme_id].title if each.scheme_id in schemes else each.scheme_id
        own = ", ".join(f"{key.partition(':')[0]} {100 * share:g} %" for key, share in each.own_targets.items())
        rows.append(
            (
                Cell(shown_date(each.from_day), (each.from_day,)),
                plain(title),
                plain(own or "as published"),
                plain(each.reason or "–"),
                plain(names.get(each.chosen_by, "")),
            )
        )
    return DataTable(
        key="schemes-chosen",
        caption="Schemes chosen",
        columns=(Column("From"), Column("Scheme"), Column("Targets"), Column("Reason"), Column("Chosen by")),
        rows=rows,
        empty="None has been chosen yet.",
        csv=with_csv(asked.address(HERE), "schemes-chosen"),
    )


def scheme_choices(in_force: GradingScheme | None, typed: Mapping[str, str]) -> list[SchemeChoice]:
    """Every published scheme with its fields, as typed or as it stands."""
    found = []
    for scheme in grading_schemes().values():
        now = in_force if in_force is not None and in_force.id == scheme.id else scheme
        found.append(
            SchemeChoice(
                scheme=scheme,
                in_force=in_force is not None and in_force.id == scheme.id,
                targets=[
                    (
                        name := f"{scheme.id}.{target.key}",
                        f"{target.grade}: {'at least' if target.bound == 'at_least' else 'at most'}, "
                        f"in per cent of {RECEPTOR_WORDS[target.receptors]}",
                        typed.get(name, f"{100 * target.share:g}"),
                    )
                    for target in now.targets
                ],
                reason=typed.get(f"{scheme.id}.reason", ""),
                from_day=typed.get(f"{scheme.id}.from_day", date.today().isoformat()),
            )
        )
    return found


@router.post(HERE)
def keep_scheme(
    request: Request, actor: CurrentActor, store: StoreDep, form: Posted, asked: AskedReview
) -> Response:
    """Choose a scheme, with the practice's own targets where they differ from the published ones."""
    scheme_id = form.text("scheme_id")
    prefix = f"{scheme_id}."
    typed = {name: form.text(name) for name in form.names() if name.startswith(prefix)}
    published = grading_schemes().get(scheme_id)
    own = {
        target.key: text
        for target in (published.targets if published is not None else ())
        if (text := typed.get(f"{prefix}{target.key}", "").strip()) != f"{100 * target.share:g}" and text
    }
    try:
        with store.writing(actor.practice_id) as scope:
            check_overtaken(scope, form, _seen(scope, actor), back=asked.address(HERE))
            choose_scheme(
                scope,
                actor,
                scheme_id=scheme_id,
                own_targets=own,
                reason=typed.get(f"{prefix}reason", ""),
                from_day=typed.get(f"{prefix}from_day", ""),
            )
    except InputError as error:
        field = f"{prefix}{error.path.removeprefix('own_targets.')}"
        at_field = FieldError(field=field if field in typed else "", message=error.message)
        with store.reading(actor.practice_id) as scope:
            return _page(request, scope, actor, asked, typed, (at_field,), form.text(OPENED))
    return go_to(asked.address(HERE), "scheme-chosen")
