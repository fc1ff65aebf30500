"""The quality report of a period as one PDF that stands by itself: values in, bytes out.

Tagged for screen readers (PDF/UA-1), numbered pages, nothing fetched: what the report shows is handed in whole.
"""

from __future__ import annotations

import logging
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any, NoReturn

from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape
from markupsafe import Markup

from app.core.errors import FullcountError

ROOT = Path(__file__).resolve().parents[2]
SHEET = ROOT / "static" / "quality_report.css"


CHART_INK = (
    ".q-grid{stroke:#cfc7b4;stroke-width:1}.q-soft{fill:#46535c}.q-whisker,.q-run{stroke:#0f5c56}"
    ".q-mark{fill:#0f5c56;stroke:#0f5c56}.q-ring{fill:#fff;stroke:#0f5c56}.q-warning{stroke:#8a5a00}.q-limit{stroke:#b3401f}"
)
"""Colours of the drawings in the PDF, whose library does not apply the page's style sheet to a drawing. Shapes and
dashes tell everything without them."""


class ReportFailed(FullcountError):
    """The PDF could not be made; the sentence says what to try."""


@dataclass(frozen=True, kw_only=True)
class ReportTable:
    """A table: the first cell of each row names it.

    Parameters
    ----------
    headings : one for each cell of a row
    numbers : columns (from 0) that hold numbers, set to the right
    note : a sentence beneath
    """

    caption: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: tuple[int, ...] = ()
    note: str = ""
    empty: str = "Nothing to list in this period."


@dataclass(frozen=True, kw_only=True)
class ReportChart:
    """A drawing.

    Parameters
    ----------
    svg : one whole ``<svg>`` element, made by this program from escaped texts
    told : what the drawing shows, in words, for those who do not see it
    """

    caption: str
    svg: str
    told: str

    @property
    def drawing(self) -> Markup:
        """The element as it goes into the page."""
        return Markup(self.svg)  # noqa: S704 - drawn by our charts, which escape every text  # nosec B704

    def inked(self) -> ReportChart:
        """The drawing with its colours in it."""
        return replace(self, svg=self.svg.replace("</svg>", f"<style>{CHART_INK}</style></svg>"))


@dataclass(frozen=True, kw_only=True)
class ReportSection:
    """One numbered section: sentences, then facts, charts and tables."""

    key: str
    title: str
    words: tuple[str, ...] = ()
    facts: tuple[tuple[str, str], ...] = ()
    charts: tuple[ReportChart, ...] = ()
    tables: tuple[ReportTable, ...] = ()


@dataclass(frozen=True, kw_only=True)
class QualityReport:
    """All that stands in the report.

    Parameters
    ----------
    period : in words
    conclusions, actions : paragraphs written by the dentist
    signed_by, signed_at : empty in a draft, which says on every page that it is one
    """

    title: str
    practice: str
    period: str
    summary: tuple[tuple[str, str], ...]
    sections: tuple[ReportSection, ...]
    conclusions: tuple[str, ...]
    actions: tuple[str, ...]
    made_at: str
    signed_by: str = ""
    signed_at: str = ""

    @property
    def draft(self) -> bool:
        """Whether nobody has signed it."""
        return not self.signed_by


@cache
def _environment() -> Environment:
    return Environment(
        loader=FileSystemLoader(ROOT / "templates"),
        autoescape=select_autoescape(default=True, default_for_string=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def report_html(report: QualityReport) -> str:
    """The report as one HTML text with its style sheet in it."""
    sheet = SHEET.read_text(encoding="utf-8")
    inked = tuple(
        replace(section, charts=tuple(chart.inked() for chart in section.charts)) for section in report.sections
    )
    template = _environment().get_template("sheets/quality_report_pdf.html")
    style = Markup(sheet)  # noqa: S704 - our own file  # nosec B704
    return template.render(report=replace(report, sections=inked), style=style)


def report_pdf(report: QualityReport) -> bytes:
    """The report as PDF/UA-1.

    Raises
    ------
    ReportFailed
        The PDF library could not lay it out.

    Notes
    -----
    The library is loaded when the first report is made: it takes half a second, and most work never needs it.
    """
    from weasyprint import HTML  # type: ignore[import-untyped]
    from weasyprint.urls import URLFetcher  # type: ignore[import-untyped]

    class NothingFetched(URLFetcher):  # type: ignore[misc]  # the library carries no types
        """Refuses whatever the layout would fetch: a report of patients' images asks nobody for anything."""

        def fetch(self, url: str, headers: object = None) -> NoReturn:
            raise ValueError(f"a report fetches nothing, so not {url[:80]}")

    logging.getLogger("weasyprint").setLevel(logging.ERROR)
    page = HTML(string=report_html(report), url_fetcher=NothingFetched())
    made: Any = page.write_pdf(pdf_variant="pdf/ua-1")
    if not isinstance(made, bytes) or not made.startswith(b"%PDF-"):
        raise ReportFailed("The PDF was not made. Preview the report again; if it fails again, read the log")
    return made
