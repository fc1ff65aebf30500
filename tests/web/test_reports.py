"""The pages of the quality report: draft, preview, signature, and the file that stays."""

from __future__ import annotations

import hashlib
import io
import subprocess
from datetime import UTC, datetime

import pytest
from pypdf import PdfReader

from app.core.quality.rates import wilson
from app.storage.quality import SignedReport
from app.work.quality_figures import overview
from app.work.quality_period import Period
from app.work.quality_record import choose_scheme
from app.work.review import reopen_review, review_exposure
from tests.people import Practice
from tests.web.chairside_people import faulty_series
from tests.web.client import Page, PageClient, words

NOW = datetime.now(UTC)
MONTH = f"{NOW:%Y-%m}"
PERIOD = Period.of_months(MONTH, MONTH)
FORM = {
    "first": MONTH,
    "last": MONTH,
    "names": "full",
    "conclusions": "Cone cuts are rarer.\nLower molars need work.",
    "actions": "Training on placement.",
}


def previewed(dentist: PageClient, **changed: str) -> Page:
    """The form with its preview."""
    return dentist.post("/quality/reports/new", FORM | {"do": "look"} | changed)


def signed(dentist: PageClient, **changed: str) -> Page:
    """Look, then sign what was seen."""
    page = previewed(dentist, **changed)
    digest = str(page.find('input[name="previewed"]')["value"])
    return dentist.post("/quality/reports/new", FORM | {"do": "sign", "previewed": digest} | changed)


def file_of(dentist: PageClient, page: Page) -> bytes:
    """The PDF of the report whose page this is."""
    answer = dentist.get(page.path.split("?")[0] + ".pdf").response
    assert answer.headers["content-type"] == "application/pdf"
    return answer.content


def text_of(pdf: bytes) -> str:
    """What pdftotext reads, on one line."""
    run = subprocess.run(["pdftotext", "-layout", "-", "-"], input=pdf, capture_output=True, check=True)
    return " ".join(run.stdout.decode().split())


def rows_of(practice: Practice) -> list[SignedReport]:
    with practice.store.reading(practice.dentist.practice_id) as scope:
        return list(scope.all(scope.select(SignedReport)))


def test_the_preview_shows_the_whole_report_and_keeps_what_was_typed(
    dentist: PageClient, practice: Practice
) -> None:
    faulty_series(practice)

    page = previewed(dentist)

    text = words(page.find(".report-preview"))
    for heading in ("What is counted, and how", "Rates of the period", "Over time", "Operators", "Targets"):
        assert heading in text
    for heading in ("Second readings", "Radiation", "Methods and limits", "Sources", "Conclusions and actions"):
        assert heading in text
    assert "Draft of" in text
    assert "Lower molars need work." in words(page.find("textarea#f-conclusions"))
    assert len(page.all(".report-preview svg")) == 3
    assert rows_of(practice) == []


def test_a_signed_report_says_what_the_figures_say(dentist: PageClient, practice: Practice) -> None:
    """The PDF, read back by another program, against the use case's own figures and the Wilson interval."""
    faulty_series(practice)
    pdf = file_of(dentist, signed(dentist))
    with practice.store.reading(practice.dentist.practice_id) as scope:
        whole = overview(scope, practice.dentist, PERIOD).whole
    around = wilson(3, 18)

    text = text_of(pdf)

    assert (whole.non_diagnostic.numerator, whole.non_diagnostic.denominator) == (3, 18)
    assert around is not None
    assert (
        f"3 of 18, 16.7 % (95 % interval {around.low * 100:.1f} to {around.high * 100:.1f} %; small number)"
        in text
    )
    assert f"Exposures made {whole.exposures}" in text
    assert "Cone cuts are rarer." in text
    assert "Training on placement." in text
    assert "Signed by Dr Wilna Achterberg, dentist" in text
    assert "Tomke Rill" in text
    assert "raft" not in text


def test_the_file_is_tagged_titled_and_numbered(dentist: PageClient, practice: Practice) -> None:
    faulty_series(practice)

    reader = PdfReader(io.BytesIO(file_of(dentist, signed(dentist))))

    assert reader.metadata is not None
    assert str(reader.metadata.title).startswith("Quality of intraoral radiographs: Heron Lane")
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]
    pages = len(reader.pages)
    assert all(f"Page {n} of {pages}" in page.extract_text() for n, page in enumerate(reader.pages, start=1))


def test_what_is_signed_stays_whatever_happens_afterwards(dentist: PageClient, practice: Practice) -> None:
    _, ids = faulty_series(practice)
    page = signed(dentist)
    before = file_of(dentist, page)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        reopen_review(scope, practice.dentist, ids["LL-canine"])
        review_exposure(scope, practice.dentist, ids["UR-molar"])

    after = file_of(dentist, page)

    assert after == before
    assert rows_of(practice)[0].pdf_sha256 == hashlib.sha256(after).hexdigest()
    assert "3 of 18, 16.7 %" in words(dentist.get(page.path).find("main"))


def test_figures_that_changed_after_the_preview_are_not_signed_unseen(
    dentist: PageClient, practice: Practice
) -> None:
    _, ids = faulty_series(practice)
    digest = str(previewed(dentist).find('input[name="previewed"]')["value"])
    with practice.store.writing(practice.dentist.practice_id) as scope:
        review_exposure(scope, practice.dentist, ids["UR-molar"])

    page = dentist.post("/quality/reports/new", FORM | {"do": "sign", "previewed": digest})

    assert page.status == 422
    assert page.errors()[0].startswith("the figures have changed since you looked at them")
    assert "2 of 18" in words(page.find(".report-preview"))
    assert rows_of(practice) == []
    assert practice.store.reports.names() == []


def test_nobody_signs_unseen(dentist: PageClient, practice: Practice) -> None:
    faulty_series(practice)

    page = dentist.post("/quality/reports/new", FORM | {"do": "sign", "previewed": ""})

    assert page.status == 422
    assert rows_of(practice) == []


@pytest.mark.parametrize(
    ("changed", "field", "message"),
    [
        ({"first": "soon"}, "first", '"soon" is not a month'),
        ({"last": "2001-01"}, "last", "lies before"),
        ({"first": "2190-01", "last": "2190-02"}, "first", "has not begun"),
        ({"first": "2001-01", "last": "2001-02"}, "first", "no exposure was made in Jan 2001 to Feb 2001"),
        ({"conclusions": "  "}, "conclusions", "this is empty. Write what you conclude"),
        ({"conclusions": "x" * 2001}, "conclusions", "2001 characters"),
        ({"actions": "a\x00b"}, "actions", "cannot be shown"),
        ({"names": "fulll"}, "names", 'Did you mean "full"'),
    ],
)
def test_what_is_wrong_is_told_at_its_field_and_nothing_is_kept(
    dentist: PageClient, practice: Practice, changed: dict[str, str], field: str, message: str
) -> None:
    faulty_series(practice)

    page = dentist.post("/quality/reports/new", FORM | {"do": "sign", "previewed": "x"} | changed)

    assert page.status == 422
    assert message in page.error_at(field)
    assert rows_of(practice) == []


def test_operators_can_be_named_by_their_initials(dentist: PageClient, practice: Practice) -> None:
    faulty_series(practice)

    text = text_of(file_of(dentist, signed(dentist, names="initials")))

    assert "Tomke" not in text
    assert "TR" in text


def test_the_draft_can_be_taken_away_and_says_that_it_is_one(dentist: PageClient, practice: Practice) -> None:
    faulty_series(practice)

    page = previewed(dentist, do="pdf")

    text = text_of(page.response.content)
    assert "Draft, not signed" in text
    assert "Nobody has signed it" in text
    assert rows_of(practice) == []


def test_the_verdict_on_the_targets_stands_in_it(dentist: PageClient, practice: Practice) -> None:
    faulty_series(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        choose_scheme(scope, practice.dentist, scheme_id="two-grades-2020", from_day=PERIOD.first.isoformat())

    text = words(previewed(dentist).find("#targets"))

    assert "at least 95 %, digital receptors" in text
    assert "15 of 18" in text
    assert "too few to tell" in text or "does not meet" in text


def test_a_damaged_file_is_told_and_not_shown(dentist: PageClient, practice: Practice) -> None:
    faulty_series(practice)
    page = signed(dentist)
    name = practice.store.reports.names()[0]
    practice.store.reports.path(name).write_bytes(b"%PDF-forged")

    answer = dentist.get(page.path.split("?")[0] + ".pdf")

    assert answer.status == 409
    assert "missing or damaged" in words(answer.find("main"))


def test_only_dentists_of_the_practice_see_or_sign(
    dentist: PageClient, assistant: PageClient, front_desk: PageClient, client_of, practice: Practice
) -> None:
    faulty_series(practice)
    address = signed(dentist).path.split("?")[0]

    for person in (assistant, front_desk):
        assert person.get("/quality/reports").status == 403
        assert person.get(address + ".pdf").status == 403
        assert person.post("/quality/reports/new", FORM).status == 403
    stranger = client_of("isko")
    assert stranger.get(address).status == 404
    assert stranger.get(address + ".pdf").status == 404
    assert "No report has been signed yet." in words(stranger.get("/quality/reports").find("main"))


def test_the_list_leads_to_the_report_and_its_file(dentist: PageClient, practice: Practice) -> None:
    faulty_series(practice)
    signed(dentist)

    page = dentist.get("/quality/reports")

    assert [words(each) for each in page.all("tbody th")] == [PERIOD.text]
    assert dentist.get(str(page.find("tbody th a")["href"])).h1 == f"Quality report, {PERIOD.text}"


def test_what_people_typed_is_shown_as_text(dentist: PageClient, practice: Practice) -> None:
    faulty_series(practice)

    page = signed(dentist, conclusions="<b>bold</b> & <script>x</script>")

    assert "<b>bold</b> & <script>x</script>" in words(page.find("main"))
    assert not page.all("main b")
    assert "<b>bold</b> & <script>x</script>" in text_of(file_of(dentist, page))
