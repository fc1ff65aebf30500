"""What an answer leaves in the trail: the one table of it, by route.

Every route that is asked with GET stands either under `NOTED` or under `PLAIN` (a test fails until it does), so
that nobody can add a page with images or an export that leaves nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

from app.storage.trail_group import SAME_VIEW_S


@dataclass(frozen=True, kw_only=True)
class Noted:
    """What one answer leaves.

    Parameters
    ----------
    kind : view or export
    what : what was shown or left, in plain words
    once_s : seconds within which the same again is the same entry; 0 where each is one
    """

    kind: str
    what: str
    once_s: float = SAME_VIEW_S


def _view(what: str) -> Noted:
    return Noted(kind="view", what=what)


def _export(what: str, once_s: float = 0.0) -> Noted:
    return Noted(kind="export", what=what, once_s=once_s)


NOTED: dict[tuple[str, str], Noted] = {
    # A patient's images, and pages that carry them
    ("GET", "/images/{sha256}"): _view("image"),
    ("GET", "/series/{series_id}"): _view("series"),
    ("GET", "/series/{series_id}/fragment"): _view("series"),
    ("GET", "/series/{series_id}/assign"): _view("series, assigning its images"),
    ("GET", "/series/{series_id}/close"): _view("series, closing it"),
    ("GET", "/series/{series_id}/record"): _view("record of a series"),
    ("GET", "/exposures/{exposure_id}/review"): _view("review of an image"),
    ("GET", "/quality/grading/{sample_id}/images/{position}"): _view("second reading of an image"),
    # The trail itself
    ("GET", "/trail"): _view("the trail"),
    ("GET", "/patients/{patient_id}/viewers"): _view("who looked at a patient's images"),
    ("GET", "/trail.csv"): _export("the trail, as CSV"),
    # What leaves the program
    ("GET", "/exports/patients.csv"): _export("patients, as CSV"),
    ("GET", "/patients/{patient_id}/everything.zip"): _export("everything about one patient"),
    ("GET", "/exports/recall.csv"): _export("recall list, as CSV"),
    ("GET", "/imports/{import_id}/bad-lines.csv"): _export("lines that an import passed over, as CSV"),
    ("GET", "/letters/prepared"): _export("letters, to print"),
    ("GET", "/letters/merge.csv"): _export("letters, as CSV to merge"),
    ("GET", "/calendar/print"): _export("appointments, to print"),
    ("GET", "/calendar/appointments.csv"): _export("appointments, as CSV"),
    # A calendar program asks every few minutes.
    ("GET", "/feeds/{secret}.ics"): _export("calendar feed read", SAME_VIEW_S),
    ("GET", "/quality/reports/{report_id}.pdf"): _export("signed quality report, as PDF"),
}

PLAIN: frozenset[str] = frozenset(
    {
        # Coming and going, about the program, for programs
        "/login",
        "/first-start",
        "/cautions",
        "/patterns",
        "/favicon.ico",
        "/health",
        "/api",
        "/openapi.json",
        "/",
        "/me",
        "/me/log-ins",
        "/me/second-factor",
        "/me/second-factor/picture.png",
        "/login/code",
        "/switch",
        "/ready",
        "/metrics",
        # That something changed, never what
        "/live/{kind}/{row_id}",
        "/live/{kind}/{row_id}/version",
        # Patients and charts: no images
        "/patients",
        "/patients/new",
        "/patients/{patient_id}",
        "/patients/{patient_id}/edit",
        "/patients/{patient_id}/chart",
        "/patients/{patient_id}/corrections",
        "/patients/{patient_id}/everything",
        "/exposures/{exposure_id}/details",
        "/doubles",
        "/doubles/compare",
        "/merges/{merge_id}",
        "/retention",
        "/retention/holds/{patient_id}",
        "/series/new",
        "/series/new/{patient_id}",
        # Templates and the practice
        "/templates",
        "/templates/{key}",
        "/templates/{key}/edit",
        "/templates/{key}/slots/new",
        "/templates/{key}/slots/{slot_id}",
        "/practice",
        "/practice/staff",
        "/practice/staff/{staff_id}/password",
        "/practice/log-ins",
        "/practice/log-ins/{staff_id}",
        "/backups",
        "/practice/rooms",
        "/practice/loading",
        "/practice/loading/{key}",
        "/practice/receptors/{receptor_id}",
        # Recall and calendar
        "/recall",
        "/recall/fragment",
        "/recall/policies",
        "/recall/policies/{key}",
        "/recall/patients/{patient_id}",
        "/recall/patients/{patient_id}/prescribe",
        "/recall/patients/{patient_id}/risk",
        "/recall/patients/{patient_id}/hold",
        "/recall/patients/{patient_id}/outside",
        "/calendar",
        "/calendar/forecast",
        "/calendar/hours",
        "/calendar/feed",
        "/bookings/new",
        "/bookings/{appointment_id}",
        "/bookings/{appointment_id}/move",
        # The review: figures, and links to images that are noted when they are followed
        "/findings",
        "/quality",
        "/quality/figures",
        "/quality/exposures",
        "/quality/incomplete",
        "/quality/comparison",
        "/quality/over-time",
        "/quality/receptors",
        "/quality/targets",
        "/quality/training",
        "/quality/grading",
        "/quality/grading/{sample_id}",
        "/quality/grading/{sample_id}/next",
        "/quality/radiation",
        "/quality/reports",
        "/quality/reports/new",
        "/quality/reports/{report_id}",
        # Imports and letters: what is staged or written here
        "/imports",
        "/imports/{import_id}",
        "/imports/{import_id}/dates",
        "/imports/{import_id}/check",
        "/letters",
        "/letters/texts/new",
        "/letters/texts/{text_id}",
        "/letters/new",
    }
)
"""Asked with GET, shows no image, lets nothing leave the program."""

REFUSED: dict[int, str] = {
    403: "not open to this person",
    421: "sent to another host",
    429: "tried too often",
}
"""Answers that are refusals, by status."""

SAME_REFUSAL_S = 60.0
"""Seconds within which the same refusal of the same person from the same place is one entry, so that a page that
asks in a loop does not fill the trail (our choice)."""
