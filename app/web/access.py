"""Who may open what: the one table of role by route.

A route that is not listed here is refused for everybody (and fails a test), so that nobody can forget it. What a
person may *do* is checked once more by the use case itself.
"""

from __future__ import annotations

from fastapi import Request
from fastapi.routing import APIRoute

from app.work.actor import ADMINISTRATORS, CHAIRSIDE, DENTISTS, DESK, EVERYBODY, TEAM, NotAllowed, Role, require

Roles = frozenset[Role]

OPEN: Roles | None = None
"""Needs no log-in."""

ACCESS: dict[tuple[str, str], Roles | None] = {
    # Coming and going
    ("GET", "/login"): OPEN,
    ("POST", "/login"): OPEN,
    ("POST", "/logout"): OPEN,
    ("GET", "/first-start"): OPEN,
    ("POST", "/first-start"): OPEN,
    ("GET", "/login/code"): OPEN,
    ("POST", "/login/code"): OPEN,
    ("GET", "/switch"): OPEN,
    ("POST", "/switch"): OPEN,
    ("POST", "/switch/lock"): OPEN,
    # About the program
    ("GET", "/cautions"): OPEN,
    ("GET", "/patterns"): OPEN,
    ("GET", "/favicon.ico"): OPEN,
    ("GET", "/health"): OPEN,
    ("GET", "/ready"): OPEN,
    # Open to this machine and to who has the token: it looks itself
    ("GET", "/metrics"): OPEN,
    # For programs
    ("GET", "/api"): OPEN,
    ("GET", "/openapi.json"): OPEN,
    ("POST", "/api/audit"): OPEN,
    # Home and one's own log-in
    ("GET", "/"): EVERYBODY,
    ("GET", "/me"): EVERYBODY,
    ("POST", "/me/password"): EVERYBODY,
    # Log-ins: one's own, and colleagues'
    ("POST", "/me/pin"): TEAM,
    ("POST", "/me/pin/remove"): TEAM,
    ("GET", "/me/log-ins"): EVERYBODY,
    ("POST", "/me/log-ins/end"): EVERYBODY,
    ("POST", "/me/log-ins/end-others"): EVERYBODY,
    ("GET", "/me/second-factor"): EVERYBODY,
    ("GET", "/me/second-factor/picture.png"): EVERYBODY,
    ("POST", "/me/second-factor/begin"): EVERYBODY,
    ("POST", "/me/second-factor/confirm"): EVERYBODY,
    ("POST", "/me/second-factor/codes"): EVERYBODY,
    ("POST", "/me/second-factor/off"): EVERYBODY,
    ("GET", "/practice/log-ins"): ADMINISTRATORS,
    ("POST", "/practice/log-ins/second-factor"): ADMINISTRATORS,
    ("GET", "/practice/log-ins/{staff_id}"): ADMINISTRATORS,
    ("POST", "/practice/log-ins/{staff_id}/end"): ADMINISTRATORS,
    ("POST", "/practice/log-ins/{staff_id}/end-all"): ADMINISTRATORS,
    ("POST", "/practice/log-ins/{staff_id}/second-factor/off"): ADMINISTRATORS,
    # Patients
    ("GET", "/patients"): TEAM,
    ("GET", "/patients/new"): TEAM,
    ("POST", "/patients/new"): TEAM,
    ("GET", "/patients/{patient_id}"): TEAM,
    ("GET", "/patients/{patient_id}/edit"): TEAM,
    ("POST", "/patients/{patient_id}/edit"): TEAM,
    ("GET", "/patients/{patient_id}/chart"): CHAIRSIDE,
    ("POST", "/patients/{patient_id}/chart"): CHAIRSIDE,
    # Corrections and their history
    ("GET", "/patients/{patient_id}/corrections"): TEAM,
    ("GET", "/exposures/{exposure_id}/details"): CHAIRSIDE,
    ("POST", "/exposures/{exposure_id}/details"): CHAIRSIDE,
    # Keeping and erasing records
    ("GET", "/retention"): DENTISTS | ADMINISTRATORS,
    ("POST", "/retention/rule"): DENTISTS,
    ("GET", "/retention/holds/{patient_id}"): DENTISTS,
    ("POST", "/retention/holds/{patient_id}"): DENTISTS,
    ("POST", "/retention/holds/{hold_id}/lift"): DENTISTS,
    ("POST", "/retention/erasures"): DENTISTS,
    ("POST", "/retention/erasures/{erasure_id}/withdraw"): DENTISTS,
    ("POST", "/retention/erasures/{erasure_id}/carry-out"): ADMINISTRATORS,
    ("POST", "/retention/left-files"): ADMINISTRATORS,
    # All about one patient
    ("GET", "/patients/{patient_id}/everything"): DENTISTS,
    ("GET", "/patients/{patient_id}/everything.zip"): DENTISTS,
    # Double patients and merges
    ("GET", "/doubles"): DESK,
    ("GET", "/doubles/compare"): DESK,
    ("POST", "/doubles/merge"): DESK,
    ("GET", "/merges/{merge_id}"): DESK,
    ("POST", "/merges/{merge_id}/undo"): DESK,
    # Starting a series
    ("GET", "/series/new"): CHAIRSIDE,
    ("GET", "/series/new/{patient_id}"): CHAIRSIDE,
    ("POST", "/series/new/{patient_id}"): CHAIRSIDE,
    # Templates
    ("GET", "/templates"): CHAIRSIDE,
    ("GET", "/templates/{key}"): CHAIRSIDE,
    ("POST", "/templates/{key}/copy"): DENTISTS,
    ("GET", "/templates/{key}/edit"): DENTISTS,
    ("POST", "/templates/{key}/edit"): DENTISTS,
    ("POST", "/templates/{key}/retire"): DENTISTS,
    ("GET", "/templates/{key}/slots/new"): DENTISTS,
    ("POST", "/templates/{key}/slots/new"): DENTISTS,
    ("GET", "/templates/{key}/slots/{slot_id}"): DENTISTS,
    ("POST", "/templates/{key}/slots/{slot_id}"): DENTISTS,
    ("POST", "/templates/{key}/slots/{slot_id}/move"): DENTISTS,
    ("POST", "/templates/{key}/slots/{slot_id}/remove"): DENTISTS,
    # Who works here: the administrator's
    ("GET", "/practice/staff"): ADMINISTRATORS,
    ("POST", "/practice/staff"): ADMINISTRATORS,
    ("POST", "/practice/staff/{staff_id}/retire"): ADMINISTRATORS,
    ("POST", "/practice/staff/{staff_id}/duty"): ADMINISTRATORS,
    ("GET", "/practice/staff/{staff_id}/password"): ADMINISTRATORS,
    ("POST", "/practice/staff/{staff_id}/password"): ADMINISTRATORS,
    # The practice: the dentist's; the administrator is led on to who works here
    ("GET", "/practice"): DENTISTS | ADMINISTRATORS,
    ("POST", "/practice"): DENTISTS,
    ("GET", "/practice/rooms"): DENTISTS,
    ("POST", "/practice/rooms"): DENTISTS,
    ("POST", "/practice/rooms/{room_id}/retire"): DENTISTS,
    ("POST", "/practice/receptors"): DENTISTS,
    ("POST", "/practice/receptors/{receptor_id}/retire"): DENTISTS,
    ("GET", "/practice/loading"): DENTISTS,
    ("POST", "/practice/loading/file-names"): DENTISTS,
    ("GET", "/practice/loading/{key}"): DENTISTS,
    ("POST", "/practice/loading/{key}"): DENTISTS,
    # Recall (rows of app/web/pages/recall*.py)
    ("GET", "/recall"): TEAM,
    ("GET", "/recall/fragment"): TEAM,
    ("POST", "/recall/up-to-date"): TEAM,
    ("GET", "/recall/policies"): DENTISTS,
    ("GET", "/recall/policies/{key}"): DENTISTS,
    ("POST", "/recall/policies/{key}"): DENTISTS,
    ("GET", "/recall/patients/{patient_id}"): TEAM,
    ("POST", "/recall/patients/{patient_id}/claim"): TEAM,
    ("POST", "/recall/patients/{patient_id}/release"): TEAM,
    ("POST", "/recall/patients/{patient_id}/contacts"): TEAM,
    ("GET", "/recall/patients/{patient_id}/prescribe"): DENTISTS,
    ("POST", "/recall/patients/{patient_id}/prescribe"): DENTISTS,
    ("GET", "/recall/patients/{patient_id}/risk"): DENTISTS,
    ("POST", "/recall/patients/{patient_id}/risk"): DENTISTS,
    ("GET", "/recall/patients/{patient_id}/hold"): TEAM,
    ("POST", "/recall/patients/{patient_id}/hold"): TEAM,
    ("GET", "/recall/patients/{patient_id}/outside"): TEAM,
    ("POST", "/recall/patients/{patient_id}/outside"): TEAM,
    ("POST", "/recall/prescriptions/{prescription_id}/withdraw"): DENTISTS,
    ("POST", "/recall/holds/{hold_id}/lift"): TEAM,
    ("POST", "/recall/outside/{outside_id}/withdraw"): TEAM,
    # Images: not for the front desk
    ("GET", "/images/{sha256}"): CHAIRSIDE,
    # Following what colleagues do (the use case knows who may follow what)
    ("GET", "/live/{kind}/{row_id}"): TEAM,
    ("GET", "/live/{kind}/{row_id}/version"): TEAM,
    # Chairside: the series itself (rows of app/web/pages/chairside*.py)
    ("GET", "/series/{series_id}"): CHAIRSIDE,
    ("GET", "/series/{series_id}/fragment"): CHAIRSIDE,
    ("POST", "/series/{series_id}/images"): CHAIRSIDE,
    ("GET", "/series/{series_id}/assign"): CHAIRSIDE,
    ("POST", "/series/{series_id}/assign"): CHAIRSIDE,
    ("POST", "/exposures/{exposure_id}/move"): CHAIRSIDE,
    ("POST", "/exposures/{exposure_id}/set-aside"): CHAIRSIDE,
    ("POST", "/exposures/{exposure_id}/put-back"): CHAIRSIDE,
    ("GET", "/exposures/{exposure_id}/review"): CHAIRSIDE,
    ("POST", "/exposures/{exposure_id}/review"): CHAIRSIDE,
    ("POST", "/exposures/{exposure_id}/reopen"): CHAIRSIDE,
    ("POST", "/exposures/{exposure_id}/view"): CHAIRSIDE,
    ("POST", "/series/{series_id}/retakes"): CHAIRSIDE,
    ("POST", "/retakes/{order_id}/withdraw"): CHAIRSIDE,
    ("POST", "/series/{series_id}/exemptions"): DENTISTS,
    ("GET", "/series/{series_id}/close"): CHAIRSIDE,
    ("POST", "/series/{series_id}/close"): CHAIRSIDE,
    ("GET", "/series/{series_id}/record"): CHAIRSIDE,
    # What the program finds
    ("GET", "/findings"): CHAIRSIDE,
    ("POST", "/findings/{finding_id}"): CHAIRSIDE,
    ("GET", "/practice/receptors/{receptor_id}"): DENTISTS,
    ("POST", "/practice/receptors/{receptor_id}/thresholds"): DENTISTS,
    # The review (rows of app/web/pages/quality*.py): an assistant sees their own figures there
    ("GET", "/quality"): CHAIRSIDE,
    ("GET", "/quality/figures"): CHAIRSIDE,
    ("GET", "/quality/exposures"): CHAIRSIDE,
    ("GET", "/quality/incomplete"): CHAIRSIDE,
    ("GET", "/quality/comparison"): CHAIRSIDE,
    ("GET", "/quality/over-time"): CHAIRSIDE,
    ("POST", "/quality/notes"): CHAIRSIDE,
    ("POST", "/quality/notes/{note_id}/withdraw"): CHAIRSIDE,
    ("GET", "/quality/receptors"): CHAIRSIDE,
    ("POST", "/quality/receptors/measure"): CHAIRSIDE,
    ("GET", "/quality/targets"): DENTISTS,
    ("POST", "/quality/targets"): DENTISTS,
    ("GET", "/quality/training"): CHAIRSIDE,
    # Second readings, radiation, signed reports
    ("GET", "/quality/grading"): CHAIRSIDE,
    ("POST", "/quality/grading"): DENTISTS,
    ("GET", "/quality/grading/{sample_id}"): CHAIRSIDE,
    ("GET", "/quality/grading/{sample_id}/next"): CHAIRSIDE,
    ("GET", "/quality/grading/{sample_id}/images/{position}"): CHAIRSIDE,
    ("POST", "/quality/grading/{sample_id}/images/{position}"): CHAIRSIDE,
    ("GET", "/quality/radiation"): CHAIRSIDE,
    ("POST", "/quality/radiation"): DENTISTS,
    ("GET", "/quality/reports"): DENTISTS,
    ("GET", "/quality/reports/new"): DENTISTS,
    ("POST", "/quality/reports/new"): DENTISTS,
    ("GET", "/quality/reports/{report_id}.pdf"): DENTISTS,
    ("GET", "/quality/reports/{report_id}"): DENTISTS,
    # Imports and exports of patients
    ("GET", "/imports"): DESK,
    ("POST", "/imports"): DESK,
    ("GET", "/imports/{import_id}"): DESK,
    ("POST", "/imports/{import_id}/reading"): DESK,
    ("POST", "/imports/{import_id}/columns"): DESK,
    ("GET", "/imports/{import_id}/dates"): DESK,
    ("POST", "/imports/{import_id}/dates"): DESK,
    ("GET", "/imports/{import_id}/check"): DESK,
    ("POST", "/imports/{import_id}/confirm"): DESK,
    ("GET", "/imports/{import_id}/bad-lines.csv"): DESK,
    ("POST", "/imports/{import_id}/discard"): DESK,
    ("POST", "/imports/{import_id}/undo"): DESK,
    ("GET", "/exports/patients.csv"): DESK,
    ("GET", "/exports/recall.csv"): DESK,
    # Letters and messages
    ("GET", "/letters"): TEAM,
    ("GET", "/letters/texts/new"): DESK,
    ("POST", "/letters/texts/new"): DESK,
    ("POST", "/letters/texts/examples"): DESK,
    ("GET", "/letters/texts/{text_id}"): DESK,
    ("POST", "/letters/texts/{text_id}"): DESK,
    ("POST", "/letters/texts/{text_id}/retire"): DESK,
    ("GET", "/letters/new"): TEAM,
    ("POST", "/letters/new"): TEAM,
    ("POST", "/letters/prepare"): TEAM,
    ("GET", "/letters/prepared"): TEAM,
    ("GET", "/letters/merge.csv"): TEAM,
    # Calendar: appointments, hours, forecast, feeds (rows of app/web/pages/bookings*.py)
    ("GET", "/calendar"): TEAM,
    ("GET", "/calendar/print"): TEAM,
    ("GET", "/calendar/appointments.csv"): TEAM,
    ("GET", "/calendar/forecast"): TEAM,
    ("GET", "/calendar/hours"): DENTISTS,
    ("POST", "/calendar/hours"): DENTISTS,
    ("POST", "/calendar/hours/settings"): DENTISTS,
    ("POST", "/calendar/hours/closed"): DENTISTS,
    ("POST", "/calendar/hours/closed/{closed_id}/reopen"): DENTISTS,
    ("GET", "/calendar/feed"): TEAM,
    ("POST", "/calendar/feed"): TEAM,
    ("POST", "/calendar/feed/{feed_id}/revoke"): TEAM,
    ("GET", "/feeds/{secret}.ics"): OPEN,
    ("GET", "/bookings/new"): TEAM,
    ("POST", "/bookings/new"): TEAM,
    ("GET", "/bookings/{appointment_id}"): TEAM,
    ("POST", "/bookings/{appointment_id}/mark"): TEAM,
    ("POST", "/bookings/{appointment_id}/cancel"): TEAM,
    ("GET", "/bookings/{appointment_id}/move"): TEAM,
    ("POST", "/bookings/{appointment_id}/move"): TEAM,
    # The trail
    ("GET", "/trail"): ADMINISTRATORS,
    ("GET", "/trail.csv"): ADMINISTRATORS,
    ("GET", "/patients/{patient_id}/viewers"): DENTISTS,
    # Backups
    ("GET", "/backups"): ADMINISTRATORS,
}


class LogInNeeded(Exception):
    """Nobody is logged in, and the route needs somebody."""


def roles_for(method: str, path: str) -> Roles | None:
    """The roles that may ask for a route; `OPEN` where nobody need be logged in.

    Raises
    ------
    KeyError
        The route is not in the table.
    """
    return ACCESS[("GET" if method == "HEAD" else method, path)]


def check_access(request: Request) -> None:
    """Let the request pass, or say why not.

    Raises
    ------
    LogInNeeded, NotAllowed
    """
    route = request.scope.get("route")
    path = route.path if isinstance(route, APIRoute) else request.url.path
    try:
        roles = roles_for(request.method, path)
    except KeyError:
        raise NotAllowed("This page is not in the table of who may open what, so nobody may.") from None
    if roles is None:
        return
    login = request.state.login
    if login is None:
        raise LogInNeeded
    require(login.actor, roles, "open this page")
    if login.factor_due and roles != EVERYBODY:
        raise NotAllowed(
            "Your practice asks administrators for a second factor. "
            "Set it up under your name, then open this again."
        )
