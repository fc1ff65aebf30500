"""Who works here: kept by whoever administers the program, who is never nobody."""

from __future__ import annotations

import pytest

from app.web.access import ACCESS
from app.web.pages.practice import PLACES
from app.work import accounts
from app.work.actor import Role
from app.work.administrators import set_duty
from tests.people import PASSWORD, Practice
from tests.web.client import PageClient, words

DUTY = "Also administers the program"


def test_a_new_colleague_can_log_in(client_of, administrator: PageClient) -> None:
    values = {"name": "Ivo Lant", "login": "ivo", "password": PASSWORD, "role": "front_desk"}
    administrator.submit(administrator.get("/practice/staff"), "/practice/staff", values)

    assert client_of("ivo").get("/").h1 == "Patients at the desk"


@pytest.mark.parametrize(
    ("field", "value", "message"),
    [
        ("login", "tomke", '"tomke" is taken. Choose another log-in name'),
        ("login", "Ivo Lant", '"Ivo Lant" cannot be a log-in name.'),
        ("password", "short", "a password needs at least 10 characters."),
        ("name", " ", "this is empty. Fill it in"),
    ],
)
def test_a_wrong_colleague_is_told_at_the_field(
    administrator: PageClient, field: str, value: str, message: str
) -> None:
    values = {"name": "Ivo Lant", "login": "ivo", "password": PASSWORD, field: value}

    page = administrator.submit(administrator.get("/practice/staff"), "/practice/staff", values)

    assert page.status == 422
    assert page.error_at(field).startswith(message)


def test_a_retired_person_s_log_in_ends_at_once(client_of, practice: Practice) -> None:
    administrator, assistant = client_of("ruan"), client_of("tomke")
    administrator.post(f"/practice/staff/{practice.assistant.staff_id}/retire", {"retired": "yes"})

    assert assistant.get("/").h1 == "Log in"
    assert assistant.log_in("tomke", PASSWORD).status == 401


def test_nobody_retires_themselves(administrator: PageClient, practice: Practice) -> None:
    page = administrator.post(f"/practice/staff/{practice.administrator.staff_id}/retire", {"retired": "yes"})

    assert page.status == 422
    assert "You cannot close your own log-in" in page.errors()[0]


def test_a_forgotten_password_is_replaced(client_of, practice: Practice) -> None:
    address = f"/practice/staff/{practice.assistant.staff_id}/password"
    administrator = client_of("ruan")
    administrator.submit(administrator.get(address), address, {"password": "five slow herons"})

    assert client_of("").log_in("tomke", "five slow herons").h1 == "Series under way"


def the_row(page: PageClient, name: str) -> str:
    """The line of a person in the list of staff."""
    shown = page.get("/practice/staff")
    return next(words(row) for row in shown.all("tbody tr") if name in words(row))


def test_the_form_says_what_each_role_may_do(administrator: PageClient) -> None:
    hints = [words(each) for each in administrator.get("/practice/staff").all("fieldset .choice-hint")]

    assert len(hints) == len(Role)
    assert any("Sees no images" in each for each in hints)
    assert any("Prescribes nothing" in each for each in hints)
    assert any("Sees no patient, image or figure" in each for each in hints)


def test_a_colleague_may_be_added_with_the_duty(client_of, administrator: PageClient) -> None:
    values = {"name": "Ivo Lant", "login": "ivo", "password": PASSWORD, "role": "assistant", "administers": "yes"}
    administrator.submit(administrator.get("/practice/staff"), "/practice/staff", values)
    added = client_of("ivo")

    assert added.get("/practice/staff").status == 200
    assert added.get("/").h1 == "Series under way"
    assert "assistant, also administers the program" in words(added.get("/me").find(".facts"))


def test_the_box_stays_ticked_when_the_form_comes_back(administrator: PageClient) -> None:
    values = {"name": " ", "login": "ivo", "password": PASSWORD, "role": "assistant", "administers": "yes"}
    page = administrator.submit(administrator.get("/practice/staff"), "/practice/staff", values)

    assert page.status == 422
    assert page.find('input[type="checkbox"][name="administers"]').has_attr("checked")


def test_the_duty_is_given_and_taken(client_of, administrator: PageClient, practice: Practice) -> None:
    dentist, address = client_of("wilna"), f"/practice/staff/{practice.dentist.staff_id}/duty"
    before = dentist.get("/practice/staff").status
    administrator.submit(administrator.get("/practice/staff"), address)
    given = dentist.get("/practice/staff").status
    administrator.submit(administrator.get("/practice/staff"), address)

    assert (before, given, dentist.get("/practice/staff").status) == (403, 200, 403)
    assert "Give the duty" in the_row(administrator, "Wilna")


def test_the_last_administrator_keeps_the_duty(client_of, practice: Practice) -> None:
    with practice.store.writing(practice.administrator.practice_id) as scope:
        set_duty(scope, practice.administrator, practice.dentist.staff_id, administers=True)
    dentist = client_of("wilna")
    dentist.post(f"/practice/staff/{practice.administrator.staff_id}/retire", {"retired": "yes"})
    page = dentist.post(f"/practice/staff/{practice.dentist.staff_id}/duty", {"administers": ""})

    assert page.status == 422
    assert "is the last who administers the program" in page.errors()[0]
    assert dentist.get("/practice/staff").status == 200


def test_whoever_gives_their_own_duty_away_is_led_home(client_of, practice: Practice) -> None:
    with practice.store.writing(practice.administrator.practice_id) as scope:
        set_duty(scope, practice.administrator, practice.dentist.staff_id, administers=True)
    dentist = client_of("wilna")
    page = dentist.post(f"/practice/staff/{practice.dentist.staff_id}/duty", {"administers": ""})

    assert (page.status, page.h1) == (200, "Series under way")


def test_the_dentist_s_settings_stay_the_dentist_s(administrator: PageClient) -> None:
    addresses = ["/practice/rooms", "/practice/loading", "/templates", "/calendar/hours", "/recall/policies"]

    assert [administrator.get(each).status for each in addresses] == [403] * len(addresses)
    assert administrator.post("/practice", {"name": "Otter Lane"}).status == 403


def test_an_administrator_is_led_from_the_practice_to_the_staff(administrator: PageClient) -> None:
    page = administrator.get("/practice")

    assert (page.h1, page.path) == ("Staff", "/practice/staff")
    theirs = [
        title for title, at in PLACES if at != "/practice" and Role.ADMINISTRATOR in (ACCESS["GET", at] or ())
    ]
    assert theirs[0] == "Staff"
    assert [words(each) for each in page.all(".within a")] == (theirs if len(theirs) > 1 else [])


def test_a_dentist_is_shown_no_place_that_is_not_open(dentist: PageClient) -> None:
    shown = [words(each) for each in dentist.get("/practice").all(".within a")]

    assert shown == ["Policies", "Rooms and receptors", "Loading images", "Keeping and erasing"]


def test_a_dentist_who_administers_is_shown_every_place(client_of, practice: Practice) -> None:
    with practice.store.writing(practice.administrator.practice_id) as scope:
        set_duty(scope, practice.administrator, practice.dentist.staff_id, administers=True)
    shown = [words(each) for each in client_of("wilna").get("/practice").all(".within a")]

    assert shown == [title for title, _ in PLACES]
    assert len(shown) >= 4


@pytest.mark.parametrize("login", ["tomke", "wilna", "pell", "ruan"])
def test_every_link_of_the_home_page_and_the_header_is_open(client_of, login: str) -> None:
    client = client_of(login)
    home = client.get("/")
    links = {str(each["href"]) for each in home.all("header a, main a") if str(each["href"]).startswith("/")}

    assert {link: client.get(link).status for link in links if client.get(link).status != 200} == {}


def test_an_administrator_s_home_says_what_is_theirs_and_names_no_patient(
    administrator: PageClient, practice: Practice
) -> None:
    page = administrator.get("/")

    assert page.h1 == "Administering the program"
    assert next(words(each) for each in page.all(".duties strong")) == "Who works here"
    assert [words(each) for each in page.all("header nav a")] == ["Home", "Practice"]
    assert "You alone administer" in page.text


def test_the_warning_goes_when_somebody_shares_the_duty(administrator: PageClient, practice: Practice) -> None:
    with practice.store.writing(practice.administrator.practice_id) as scope:
        set_duty(scope, practice.administrator, practice.dentist.staff_id, administers=True)

    assert "You alone administer" not in administrator.get("/").text


def test_a_taken_duty_takes_the_rights_at_once(client_of, practice: Practice) -> None:
    """The log-in that is under way loses them too: the row is read at every request."""
    with practice.store.writing(practice.administrator.practice_id) as scope:
        set_duty(scope, practice.administrator, practice.dentist.staff_id, administers=True)
    dentist = client_of("wilna")
    before = dentist.get("/practice/staff").status
    with practice.store.writing(practice.administrator.practice_id) as scope:
        set_duty(scope, practice.administrator, practice.dentist.staff_id, administers=False)
    answer = dentist.post(
        "/practice/staff", {"name": "Ivo", "login": "ivo", "password": PASSWORD, "role": "dentist"}
    )

    assert (before, answer.status) == (200, 403)
    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert scope.first(scope.select(accounts.Staff).where(accounts.Staff.login == "ivo")) is None
