"""The machine's clock is set back while the server runs: order stays, nothing is refused, nobody is logged out."""

from __future__ import annotations

import time
from datetime import timedelta
from pathlib import Path

import httpx
import pytest

from app.storage.columns import now
from app.storage.series import ExposureRow
from app.work.backups import back_up
from tests.durability.serving import PATIENCE_S, RADIOGRAPHS, Server, log_in, opened, serving, upload
from tests.durability.whole import recorded
from tests.making import a_series
from tests.people import PASSWORD, Practice
from tests.web.client import Page

TURN_BACK = """
import threading, time
from datetime import datetime, timedelta, timezone
from pathlib import Path
import time_machine

def wait():
    while not Path({sign!r}).exists():
        time.sleep(0.02)
    back = datetime.now(timezone.utc) - timedelta(hours={hours})
    time_machine.travel(back, tick=True).start()
    Path({done!r}).write_text("turned")

threading.Thread(target=wait, daemon=True).start()
"""


def logged_in_anew(server: Server) -> str:
    """The heading of the page that somebody sees who logs in by the form."""
    headers = {"Accept": "text/html", "Sec-Fetch-Site": "same-origin"}
    with httpx.Client(base_url=server.address, headers=headers, timeout=PATIENCE_S) as client:
        token = str(Page(client.get("/login")).find('form[action="/login"] input[name="csrf_token"]')["value"])
        form = {"csrf_token": token, "login": "tomke", "password": PASSWORD}
        return Page(client.post("/login", data=form, follow_redirects=True)).h1


@pytest.mark.parametrize("hours", [1, 72])
def test_a_clock_set_back_changes_no_order_refuses_nothing_and_logs_nobody_out(
    practice: Practice, tmp_path: Path, hours: int
) -> None:
    series_id = a_series(practice).id
    who = log_in(practice, "wilna")
    sign, done = tmp_path / "turn", tmp_path / "turned"
    turn_back = TURN_BACK.format(sign=str(sign), done=str(done), hours=hours)
    with serving(practice.store.folder, first=turn_back) as server, who.client(server) as client:
        before = upload(client, who, series_id, RADIOGRAPHS[:2]).json()["results"]
        client.get("/recall")
        sign.write_text("now")
        end = time.monotonic() + PATIENCE_S
        while not done.exists() and time.monotonic() < end:
            time.sleep(0.02)
        after = upload(client, who, series_id, RADIOGRAPHS[2:4]).json()["results"]
        pages = {
            address: client.get(address, follow_redirects=False).status_code
            for address in ("/", f"/series/{series_id}", "/recall", "/calendar", "/quality", "/patients", "/me")
        }
        patient = client.post(
            "/patients/new",
            data={"csrf_token": who.csrf_token, "chart_number": "77", "name": "Bo", "birth_date": "1990-01-01"},
            follow_redirects=False,
        )
        fresh = logged_in_anew(server)
    rows = recorded(practice)[series_id]
    store = opened(practice.store.folder)
    with store.reading(practice.dentist.practice_id) as scope:
        taken = {row.id: row.taken_at for row in scope.all(scope.select(ExposureRow))}
    store.close()
    sent = [each["exposure"] for each in (*before, *after)]

    assert [each["outcome"] for each in (*before, *after)] == ["taken"] * 4
    assert fresh == "Series under way"
    assert set(pages.values()) == {200}, pages
    assert patient.status_code == 303
    assert [each for each, _ in rows] == sent
    # The clock was really set back, and the order does not come from it.
    assert taken[sent[2]] < taken[sent[1]] < now()
    assert now() - taken[sent[3]] > timedelta(hours=hours) - timedelta(minutes=5)
    assert back_up(practice.store.folder, tmp_path / "backup").has_findings is False
