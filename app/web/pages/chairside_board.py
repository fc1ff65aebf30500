"""What the chairside page shows: verdict and next step, mount, chart, retake plan, and the answer to a touch."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from app.core.advice import in_words
from app.core.errors import InputError
from app.core.exposures import ShortfallCode
from app.core.retakes import PlannedRetake
from app.exchange.shared_data import technique_errors
from app.storage.series import ExposureRow
from app.web.formatting import counted
from app.web.pages.chairside_answer import Answer, answer_about
from app.web.pages.chairside_chart import ChartView, chart_view, fault_name
from app.web.pages.chairside_facts import SeriesFacts
from app.web.pages.chairside_files import FileResult
from app.web.pages.chairside_mount import Film, Mount, film_of, mount_of
from app.web.pages.chairside_words import brief_words
from app.web.rendering import FieldError, View
from app.work.actor import Role
from app.work.news import version_of_series
from app.work.retakes import NOT_TAKEN

VERDICT_WORDS = {"complete": "Complete", "unreviewed": "Review to finish", "incomplete": "Not complete"}


@dataclass(frozen=True, kw_only=True)
class Step:
    """What to do next, in one sentence, with a way there (an empty address where there is none)."""

    sentence: str
    action: str = ""
    address: str = ""


@dataclass(frozen=True, kw_only=True)
class Strip:
    """The strip on top of every chairside page; ``version`` is that of the series which the page shows."""

    series_id: str
    patient_id: str
    patient: str
    chart_number: str
    series: str
    started: date
    verdict: str
    verdict_words: str
    is_open: bool
    counts: tuple[tuple[int, str], ...]
    images: str
    step: Step
    version: str


@dataclass(frozen=True, kw_only=True)
class PlanLine:
    """One exposure of the retake plan.

    Parameters
    ----------
    status : ``first`` (the view was never taken), ``further`` (a supplementary view), ``again`` (its image lost
        something), ``ordered`` (waits for its image), ``review`` (its newest image waits for review)
    reason : shortfall code that the order would name
    order_id, authorised_by : of the order that waits, empty where there is none
    """

    slot: str
    title: str
    must_show: str
    how: str
    status: str
    reason: str
    repeats: str
    order_id: str
    authorised_by: str
    review_address: str


@dataclass(frozen=True, kw_only=True)
class NoRetake:
    """A faulty image that needs no retake."""

    image_id: str
    name: str
    faults: str
    lost: str
    shown_by: str


@dataclass(frozen=True, kw_only=True)
class SetAside:
    """A file that was set aside."""

    film: Film
    reason: str
    by: str


@dataclass(frozen=True, kw_only=True)
class Board(View):
    """The chairside page."""

    here: str
    begun: bool
    strip: Strip
    mount: Mount
    chart: ChartView
    plan: tuple[PlanLine, ...]
    plan_sentence: str
    unclosable: str
    no_retake: tuple[NoRetake, ...]
    loose: tuple[Film, ...]
    aside: tuple[SetAside, ...]
    answer: Answer | None
    is_dentist: bool
    lit: str
    wanted_slot: str
    slot_choices: tuple[tuple[str, str], ...]
    receptors: tuple[tuple[str, str], ...]
    receptor_now: str
    found: tuple[Film, ...]
    dentists: tuple[tuple[str, str], ...]
    usual_dentist: str
    reasons: tuple[tuple[str, str], ...]
    file_results: tuple[FileResult, ...] = ()


def on_the_whole(error: InputError) -> tuple[FieldError, ...]:
    """The error of a form that has no single field for it: its sentence at the top of the page."""
    return (FieldError(field="", message=error.message[:1].upper() + error.message[1:]),)


def strip_of(facts: SeriesFacts) -> Strip:
    """The strip of a series."""
    audit = facts.audited.audit
    waiting = sum(1 for gap in audit.gaps if gap.reason == "not_reviewed")
    gaps = len(audit.gaps) - waiting
    counts = [(len(audit.coverage), "covered"), (gaps, "gap" if gaps == 1 else "gaps")]
    counts += [(waiting, "to review")] if waiting else []
    counts += [(len(audit.exempt), "exempt")] if audit.exempt else []
    return Strip(
        series_id=facts.row.id,
        patient_id=facts.patient.id,
        patient=facts.patient.name,
        chart_number=facts.patient.chart_number,
        series=facts.template.title,
        started=facts.row.started_on,
        verdict=audit.verdict,
        verdict_words=VERDICT_WORDS[audit.verdict],
        is_open=facts.is_open,
        counts=tuple(counts),
        images=counted(len(facts.counted), "image"),
        step=next_step(facts),
        version=version_of_series(facts.row),
    )


def next_step(facts: SeriesFacts) -> Step:
    """The one thing to do now."""
    here = f"/series/{facts.row.id}"
    if not facts.is_open:
        return Step(sentence="This series is closed.", action="Open the record", address=f"{here}/record")
    if facts.loose:
        places = "its slot" if len(facts.loose) == 1 else "their slots"
        sentence = f"Put {counted(len(facts.loose), 'image')} into {places}."
        return Step(sentence=sentence, action="See the proposal", address=f"{here}/assign")
    if not facts.counted:
        return Step(sentence="Load the images: all files at once, or tap a slot of the mount.")
    if facts.unreviewed:
        first = facts.unreviewed[0]
        sentence = f"Review {counted(len(facts.unreviewed), 'image')}, beginning with {facts.image_name(first)}."
        return Step(sentence=sentence, action="Review", address=f"/exposures/{first.id}/review")
    audit = facts.audited.audit
    if audit.verdict == "complete":
        return Step(sentence="Everything is shown. Close the series.", action="Close", address=f"{here}/close")
    if facts.orders:
        titles = " and ".join(facts.template.slot(order.slot).title for order in facts.orders)
        return Step(sentence=f"Expose {titles} now, and load what you get.")
    plan = audit.plan.exposures
    if plan:
        titles = ", ".join(facts.template.slot(each.slot).title for each in plan[:3])
        more = f" and {len(plan) - 3} more" if len(plan) > 3 else ""
        return Step(
            sentence=f"Take {counted(len(plan), 'more exposure')}: {titles}{more}.",
            action="The plan",
            address=f"{here}#plan",
        )
    return Step(
        sentence="No view of this series can show what is missing. Close it with a reason.",
        action="Close",
        address=f"{here}/close",
    )


def board_of(
    facts: SeriesFacts,
    actor_id: str,
    *,
    target: str = "",
    image: str = "",
    slot: str = "",
    errors: tuple[FieldError, ...] = (),
    file_results: tuple[FileResult, ...] = (),
) -> Board:
    """The chairside page of a series.

    Parameters
    ----------
    target, image : what was touched, by target or by exposure id; unknown ones are passed over
    slot : the slot that a file is to be loaded into
    """
    audit = facts.audited.audit
    names = facts.image_names()
    answer = answer_about(facts, target=target, image=image)
    lit = image if any(each.id == image for each in facts.counted) else ""
    return Board(
        heading=f"{facts.patient.name}",
        errors=errors,
        here=f"/series/{facts.row.id}",
        begun=bool(facts.counted),
        strip=strip_of(facts),
        mount=mount_of(facts),
        chart=chart_view(audit, names),
        plan=tuple(_plan_line(facts, each) for each in audit.plan.exposures) if facts.is_open else (),
        plan_sentence=_plan_sentence(facts),
        unclosable=brief_words(audit.plan.unclosable, facts.series) if audit.plan.unclosable else "",
        no_retake=tuple(_no_retakes(facts)),
        loose=tuple(film_of(facts, each) for each in facts.loose),
        aside=tuple(
            SetAside(film=film_of(facts, each), reason=each.set_aside_reason, by=facts.person(each.set_aside_by))
            for each in facts.audited.exposures
            if each.set_aside_reason is not None
        ),
        answer=answer,
        is_dentist=facts.staff[actor_id].role == Role.DENTIST,
        lit=lit,
        wanted_slot=slot if facts.template.has_slot(slot) else "",
        slot_choices=tuple(
            (cell.slot, cell.title) for row in mount_of(facts).rows for cell in row.cells if cell.takes_file
        ),
        receptors=tuple((each.id, each.name) for each in facts.receptors),
        receptor_now=facts.receptor_at_hand,
        found=tuple(film for film in (film_of(facts, each) for each in facts.counted) if film.found),
        dentists=tuple(facts.dentists()),
        usual_dentist=facts.usual_dentist(actor_id),
        reasons=reason_choices(),
        file_results=file_results,
    )


def reason_choices() -> tuple[tuple[str, str], ...]:
    """Why a retake may be ordered, code and words."""
    faults = tuple((code.value, each.name) for code, each in technique_errors().items())
    return ((NOT_TAKEN, "View not taken yet"), *faults)


def _plan_sentence(facts: SeriesFacts) -> str:
    plan = facts.audited.audit.plan
    if not plan.exposures:
        return ""
    fewer = plan.repeat_every_fault_count - plan.count
    proof = "No smaller number closes every gap." if plan.proved_minimal else "A smaller number may exist."
    saved = (
        f" Repeating every faulty or missing view would take {plan.repeat_every_fault_count}." if fewer > 0 else ""
    )
    return f"{counted(plan.count, 'exposure')} to take. {proof}{saved}"


def _plan_line(facts: SeriesFacts, planned: PlannedRetake) -> PlanLine:
    slot = facts.template.slot(planned.slot)
    said = in_words(planned.closes, facts.series.numbering)
    taken = facts.in_slot(slot.id)
    latest = taken[-1] if taken else None
    order = next((each for each in facts.orders if each.slot == slot.id), None)
    return PlanLine(
        slot=slot.id,
        title=slot.title,
        must_show=brief_words(planned.closes, facts.series),
        how=planned.advice.removeprefix(f"Show {said}.").strip(),
        status=_status(latest, ordered=order is not None, required=slot.required),
        reason=str(latest.shortfalls[0]["code"]) if latest is not None and latest.shortfalls else NOT_TAKEN,
        repeats=facts.image_name(latest) if latest is not None else "",
        order_id=order.id if order is not None else "",
        authorised_by=facts.person(order.authorised_by) if order is not None else "",
        review_address=f"/exposures/{latest.id}/review" if latest is not None else "",
    )


def _status(latest: ExposureRow | None, *, ordered: bool, required: bool) -> str:
    if ordered:
        return "ordered"
    if latest is None:
        return "first" if required else "further"
    return "again" if latest.reviewed else "review"


def _no_retakes(facts: SeriesFacts) -> list[NoRetake]:
    names = facts.image_names()
    made: list[NoRetake] = []
    for each in facts.audited.audit.made_up_for:
        made.append(
            NoRetake(
                image_id=each.exposure,
                name=names.get(each.exposure, each.exposure),
                faults=", ".join(fault_name(ShortfallCode(code)) for code in each.codes),
                lost=brief_words(each.lost, facts.series) if each.lost else "",
                shown_by=", ".join(names.get(other, other) for other in each.shown_by),
            )
        )
    return made
