"""A quality report is drafted, looked at, signed, and from then on kept as it is."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from app.core.errors import FullcountError, InputError, did_you_mean
from app.reports.quality_report import QualityReport, report_pdf
from app.storage.columns import now
from app.storage.database import Store
from app.storage.image_store import ImageDamaged, ImageMissing
from app.storage.people import Staff
from app.storage.practice_scope import PracticeScope
from app.storage.quality import SignedReport
from app.work.actor import DENTISTS, ROLE_NAMES, Actor, require
from app.work.quality_period import Period
from app.work.quality_record import sign_report, signed_report
from app.work.quality_refresh import bring_up_to_date
from app.work.report_contents import NAMES, Draw, Written, operators_shown, quality_report
from app.work.report_figures import ReportFigures, report_figures
from app.work.report_tables import day_words
from app.work.text import MAX_PARAGRAPH, checked_line

FORMAT = "fullcount-quality-report/1"


class ReportLost(FullcountError):
    """The file of a signed report is missing or no longer what was signed."""


@dataclass(frozen=True, kw_only=True)
class Draft:
    """A report before it is signed.

    Parameters
    ----------
    digest : of its figures; what is signed must have the same
    """

    report: QualityReport
    figures: ReportFigures
    digest: str


def checked_period_of_report(first: str, last: str, *, today: date) -> Period:
    """The months of a report.

    Raises
    ------
    InputError
        At ``first`` or ``last``: no month, the wrong way round, or not yet begun.
    """
    period = Period.of_months(first, last)
    if period.first > today:
        raise InputError("first", f"{period.first:%b %Y} has not begun. Choose months that have passed")
    return period


def checked_writing(conclusions: str, actions: str, names: str, *, empty: bool = False) -> Written:
    """What the dentist has written.

    Parameters
    ----------
    empty : whether the conclusions may be left for later

    Raises
    ------
    InputError
        At ``conclusions``, ``actions`` or ``names``.
    """
    if names not in NAMES:
        raise InputError("names", f'"{names}" is no way to name people. Choose one.' + did_you_mean(names, NAMES))
    return Written(
        conclusions=_paragraphs(conclusions, "conclusions", empty=empty),
        actions=_paragraphs(actions, "actions", empty=True),
        names=names,
    )


def _paragraphs(text: str, path: str, *, empty: bool) -> tuple[str, ...]:
    if len(text) > MAX_PARAGRAPH:
        raise InputError(
            path, f"this has {len(text)} characters; {MAX_PARAGRAPH} are the most. Keep to what matters"
        )
    lines = [line for line in text.replace("\r\n", "\n").split("\n") if line.strip()]
    found = tuple(checked_line(line.replace("\t", " "), path, longest=MAX_PARAGRAPH) for line in lines)
    if not found and not empty:
        raise InputError(path, "this is empty. Write what you conclude from the figures before you sign them")
    return found


def draft_report(
    store: Store, actor: Actor, period: Period, written: Written, draw: Draw, *, at: datetime | None = None
) -> Draft:
    """The report of a period as it would be signed now.

    Raises
    ------
    InputError
        At ``first``: no exposure was made in the period.
    """
    return _made(store, actor, period, written, draw, at or now(), signed=False)


def _made(
    store: Store, actor: Actor, period: Period, written: Written, draw: Draw, at: datetime, *, signed: bool
) -> Draft:
    require(actor, DENTISTS, "make a quality report")
    bring_up_to_date(store, actor.practice_id)
    with store.reading(actor.practice_id) as scope:
        figures = report_figures(scope, actor, period)
    if not figures.overview.whole.exposures:
        raise InputError("first", f"no exposure was made in {period.text}. Choose another period")
    moment = _moment_words(at)
    report = quality_report(
        figures,
        written,
        draw(figures, operators_shown(figures, written.names)),
        made_at=moment,
        signed_by=f"{actor.name}, {ROLE_NAMES[actor.role]}" if signed else "",
        signed_at=moment if signed else "",
    )
    return Draft(report=report, figures=figures, digest=_digest(report))


def _moment_words(at: datetime) -> str:
    local = at.astimezone()
    return f"{day_words(local.date())}, {local:%H:%M}"


def kept_figures(report: QualityReport) -> dict[str, Any]:
    """The figures of a report as they are kept beside its file."""
    return {
        "format": FORMAT,
        "practice": report.practice,
        "period": report.period,
        "summary": [list(each) for each in report.summary],
        "sections": {
            section.key: {
                "facts": [list(each) for each in section.facts],
                "tables": [
                    {
                        "caption": table.caption,
                        "headings": list(table.headings),
                        "rows": [list(row) for row in table.rows],
                    }
                    for table in section.tables
                ],
            }
            for section in report.sections
        },
        "conclusions": list(report.conclusions),
        "actions": list(report.actions),
    }


def _digest(report: QualityReport) -> str:
    """Of the figures alone: what the dentist writes may still change after the preview."""
    figures = {name: each for name, each in kept_figures(report).items() if name not in ("conclusions", "actions")}
    return hashlib.sha256(json.dumps(figures, sort_keys=True).encode()).hexdigest()


def sign_quality_report(
    store: Store,
    actor: Actor,
    period: Period,
    written: Written,
    draw: Draw,
    *,
    previewed: str,
    at: datetime | None = None,
) -> SignedReport:
    """Sign what was previewed: the file is kept first, then the signature is recorded.

    Parameters
    ----------
    previewed : digest of the draft that the dentist has looked at

    Raises
    ------
    InputError
        At ``previewed`` where the figures are no longer those of the preview; nothing is kept then.
    """
    made = _made(store, actor, period, written, draw, at or now(), signed=True)
    if made.digest != previewed:
        raise InputError(
            "previewed",
            "the figures have changed since you looked at them, or you have not looked yet. "
            "Look at them below, then sign",
        )
    pdf = report_pdf(made.report)
    store.reports.keep(pdf)
    with store.writing(actor.practice_id) as scope:
        return sign_report(scope, actor, period=period, figures=kept_figures(made.report), pdf=pdf)


def signed_file(store: Store, actor: Actor, report_id: str) -> tuple[SignedReport, bytes]:
    """A signed report with its file, byte for byte as it was signed.

    Raises
    ------
    NotFound
        No such report in this practice.
    ReportLost
        Its file is missing or damaged.
    """
    with store.reading(actor.practice_id) as scope:
        row = signed_report(scope, actor, report_id)
    try:
        return row, store.reports.read(row.pdf_sha256)
    except (ImageMissing, ImageDamaged) as error:
        raise ReportLost(
            f"the file of the report signed on {_moment_words(row.signed_at)} is missing or damaged. "
            "Restore the folder reports of the data folder from a backup"
        ) from error


def names_of_signers(scope: PracticeScope, rows: Sequence[SignedReport]) -> dict[str, str]:
    """Who signed, by staff id."""
    wanted = {row.signed_by for row in rows}
    return {each.id: each.name for each in scope.all(scope.select(Staff)) if each.id in wanted}
