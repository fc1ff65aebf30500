"""The quality report as PDF, read back by two other programs: pypdf and poppler's pdftotext."""

from __future__ import annotations

import io
import socket
import subprocess
import threading
from dataclasses import replace
from typing import Any

import pytest
from pypdf import PdfReader

from app.reports.quality_report import (
    QualityReport,
    ReportChart,
    ReportSection,
    ReportTable,
    report_html,
    report_pdf,
)

SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 400 80" role="img" aria-labelledby="t">'
    '<title id="t">Retakes by region</title><rect width="300" height="40" fill="none" stroke="black"/>'
    '<text x="10" y="25">Upper molars</text></svg>'
)
ROWS = tuple((f"Month {number}", str(1000 + number)) for number in range(90))
REPORT = QualityReport(
    title="Quality of radiographs",
    practice="Müller & <Söhne>",
    period="Apr 2025 to Mar 2026",
    summary=(("Exposures", "1234"), ("Retaken", "56 of 1234, 4.5 %")),
    sections=(
        ReportSection(
            key="rates",
            title="Rates",
            words=("What is counted.",),
            facts=(("Fact", "value"),),
            charts=(ReportChart(caption="Regions", svg=SVG, told="Upper molars lead."),),
            tables=(ReportTable(caption="By month", headings=("Month", "Images"), rows=ROWS, numbers=(1,)),),
        ),
    ),
    conclusions=("Steady.",),
    actions=("Training on 3 March.",),
    made_at="27 Mar 2026, 09:00",
    signed_by="Dr Wilna Achterberg, dentist",
    signed_at="27 Mar 2026, 09:05",
)


@pytest.fixture(scope="module")
def pdf() -> bytes:
    return report_pdf(REPORT)


@pytest.fixture(scope="module")
def reader(pdf: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(pdf))


@pytest.fixture(scope="module")
def text(pdf: bytes) -> str:
    """What another program reads in it."""
    return subprocess.run(
        ["pdftotext", "-layout", "-", "-"], input=pdf, capture_output=True, check=True
    ).stdout.decode()


def elements(node: Any) -> list[Any]:
    """Every structure element below a node."""
    node = node.get_object()
    if not isinstance(node, dict):
        return []
    kids = node.get("/K", [])
    below = kids if isinstance(kids, list) else [kids]
    return [node, *(each for kid in below if hasattr(kid, "get_object") for each in elements(kid))]


def test_it_is_tagged_titled_and_in_a_language(reader: PdfReader) -> None:
    """PDF/UA-1 (ISO 14289-1) asks for all of these."""
    root = reader.trailer["/Root"]

    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    assert reader.metadata is not None
    assert reader.metadata.title == "Quality of radiographs: Müller & <Söhne>, Apr 2025 to Mar 2026"
    assert b"pdfuaid:part" in root["/Metadata"].get_data()
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]


def test_its_tags_name_headings_tables_and_the_drawing(reader: PdfReader) -> None:
    found = elements(reader.trailer["/Root"]["/StructTreeRoot"])
    kinds = [each.get("/S") for each in found]

    assert kinds.count("/H1") == 1
    assert kinds.count("/H2") == 4
    assert {"/Table", "/TH", "/TD", "/Figure"} <= set(kinds)
    assert [each.get("/Alt") for each in found if each.get("/S") == "/Figure"] == ["Retakes by region"]


def test_every_page_has_its_number(reader: PdfReader) -> None:
    pages = len(reader.pages)

    assert pages > 2
    for number, page in enumerate(reader.pages, start=1):
        assert f"Page {number} of {pages}" in page.extract_text()


def test_the_head_of_a_table_is_repeated_on_its_next_page(reader: PdfReader) -> None:
    assert "Month Images" in " ".join(reader.pages[1].extract_text().split())


def test_every_word_and_figure_of_it_can_be_read(text: str) -> None:
    for words in (
        "Müller & <Söhne>",
        "56 of 1234, 4.5 %",
        "Upper molars lead.",
        "Training on 3 March.",
        "Steady.",
    ):
        assert words in text
    for name, figure in ROWS:
        assert name in text
        assert figure in text


def test_who_signed_stands_at_the_end_and_no_draft_does(text: str) -> None:
    assert "Dr Wilna Achterberg, dentist" in text
    assert "27 Mar 2026, 09:05" in text
    assert "raft" not in text


def test_a_draft_says_so() -> None:
    html = report_html(replace(REPORT, signed_by="", signed_at=""))

    assert "Draft, not signed" in html
    assert "Nobody has signed it" in html


def test_its_fonts_are_inside_it(reader: PdfReader) -> None:
    fonts = [each.get_object() for page in reader.pages for each in page["/Resources"]["/Font"].values()]
    below = [font["/DescendantFonts"][0].get_object()["/FontDescriptor"].get_object() for font in fonts]

    assert below
    assert all({"/FontFile2", "/FontFile3"} & set(each) for each in below)


def test_it_fetches_nothing_even_where_a_text_asks_for_it() -> None:
    """A drawing that names a picture on a server of our own, which counts who comes."""
    visits: list[int] = []
    with socket.create_server(("127.0.0.1", 0)) as server:
        address = f"http://127.0.0.1:{server.getsockname()[1]}/x.png"

        def wait() -> None:
            try:
                visits.append(server.accept()[0].close() is None)
            except OSError:
                return

        threading.Thread(target=wait, daemon=True).start()
        chart = ReportChart(caption="c", svg=SVG.replace("<rect", f'<image href="{address}"/><rect'), told="t")
        image = replace(chart, svg=f'<img src="{address}" alt="x"><img src="file:///etc/hostname" alt="y">')
        section = replace(REPORT.sections[0], charts=(chart, image))
        made = report_pdf(replace(REPORT, sections=(section,)))

    assert made.startswith(b"%PDF-")
    assert visits == []


def test_what_people_typed_is_text_and_never_markup() -> None:
    html = report_html(replace(REPORT, conclusions=("<script>alert(1)</script>",)))

    assert "<script>" not in html
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in html
