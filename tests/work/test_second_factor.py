"""A second factor counts once it is confirmed; each code opens once; a half-finished log-in opens nothing."""

from __future__ import annotations

from datetime import timedelta

import pytest
import time_machine
from sqlalchemy import text

from app.core.errors import InputError
from app.storage.columns import now
from app.work import log_ins, second_factor
from app.work.actor import Actor
from tests.people import PASSWORD, Practice
from tests.work.log_in_use_cases import code_now, with_factor

NOON = "2026-03-27 12:00:10+00:00"


def switched_on(practice: Practice, actor: Actor) -> tuple[str, list[str]]:
    """Secret and recovery codes of a person who has just set it up."""
    with practice.store.writing(actor.practice_id) as scope:
        secret = second_factor.begin_factor(scope, actor)
        codes = second_factor.confirm_factor(scope, actor, code_now(secret))
    return secret, codes


def half(practice: Practice, login: str = "tomke") -> str:
    """The token of a right password."""
    begun = log_ins.log_in(practice.store, login=login, password=PASSWORD)
    assert begun.code_asked
    return begun.token


def opens(practice: Practice, code: str) -> bool:
    """Whether a new log-in can be finished with the code."""
    try:
        begun = log_ins.finish(practice.store, half(practice), code)
    except log_ins.WrongCode:
        return False
    return log_ins.logged_in(practice.store, begun.token, idle_minutes=30) is not None


def test_nothing_is_asked_before_the_first_code_was_right(practice: Practice) -> None:
    with practice.store.writing(practice.assistant.practice_id) as scope:
        second_factor.begin_factor(scope, practice.assistant)
    with (
        pytest.raises(InputError),
        practice.store.writing(practice.assistant.practice_id) as scope,
    ):
        second_factor.confirm_factor(scope, practice.assistant, "000000")

    assert not log_ins.log_in(practice.store, login="tomke", password=PASSWORD).code_asked


def test_the_password_alone_opens_nothing(practice: Practice) -> None:
    switched_on(practice, practice.assistant)
    token = half(practice)

    assert log_ins.logged_in(practice.store, token, idle_minutes=30) is None


def test_the_wrong_password_asks_for_no_code(practice: Practice) -> None:
    switched_on(practice, practice.assistant)

    with pytest.raises(log_ins.WrongLogIn):
        log_ins.log_in(practice.store, login="tomke", password="wrong words here")


@pytest.mark.parametrize(("steps", "right"), [(-2, False), (-1, True), (0, True), (1, True), (2, False)])
def test_a_clock_may_differ_by_one_step(practice: Practice, steps: int, right: bool) -> None:
    with time_machine.travel(NOON, tick=False):
        secret, _ = switched_on(practice, practice.assistant)
    with time_machine.travel("2026-03-27 13:00:10+00:00", tick=False):
        opened = opens(practice, code_now(secret, steps))

    assert opened is right


def test_no_code_is_taken_twice(practice: Practice) -> None:
    with time_machine.travel(NOON, tick=False):
        secret, _ = switched_on(practice, practice.assistant)
    with time_machine.travel("2026-03-27 13:00:10+00:00", tick=False):
        code = code_now(secret)
        answers = [opens(practice, code), opens(practice, code)]

    assert answers == [True, False]


def test_the_code_that_switched_it_on_opens_nothing(practice: Practice) -> None:
    with time_machine.travel(NOON, tick=False):
        secret, _ = switched_on(practice, practice.assistant)

        assert not opens(practice, code_now(secret))


def test_a_code_older_than_one_that_was_taken_is_refused(practice: Practice) -> None:
    """Somebody who looked over the shoulder half a minute ago gains nothing."""
    with time_machine.travel(NOON, tick=False):
        secret, _ = switched_on(practice, practice.assistant)
    with time_machine.travel("2026-03-27 13:00:10+00:00", tick=False):
        answers = [opens(practice, code_now(secret, 0)), opens(practice, code_now(secret, -1))]

    assert answers == [True, False]


def test_a_half_finished_log_in_ends_after_five_minutes(practice: Practice) -> None:
    secret, _ = switched_on(practice, practice.assistant)
    token, start = half(practice), now()

    with time_machine.travel(start + timedelta(minutes=4), tick=False):
        assert log_ins.half_of(practice.store, token) is not None
    with time_machine.travel(start + timedelta(minutes=6), tick=False), pytest.raises(log_ins.HalfEnded):
        log_ins.finish(practice.store, token, code_now(secret))


def test_five_wrong_codes_end_it(practice: Practice) -> None:
    _, codes = switched_on(practice, practice.assistant)
    token = half(practice)
    for _ in range(5):
        with pytest.raises(log_ins.WrongCode):
            log_ins.finish(practice.store, token, "000000")

    with pytest.raises(log_ins.HalfEnded):
        log_ins.finish(practice.store, token, codes[0])


def test_a_half_finished_log_in_is_finished_once(practice: Practice) -> None:
    _, codes = switched_on(practice, practice.assistant)
    token = half(practice)
    log_ins.finish(practice.store, token, codes[0])

    with pytest.raises(log_ins.HalfEnded):
        log_ins.finish(practice.store, token, codes[1])


def test_each_of_ten_recovery_codes_opens_once(practice: Practice) -> None:
    _, codes = switched_on(practice, practice.assistant)
    first = [opens(practice, code.upper().replace("-", " ")) for code in codes]
    again = [opens(practice, code) for code in codes]

    assert len(set(codes)) == 10
    assert (first, again) == ([True] * 10, [False] * 10)


def test_new_recovery_codes_replace_the_old(practice: Practice) -> None:
    _, old = switched_on(practice, practice.assistant)
    with practice.store.writing(practice.assistant.practice_id) as scope:
        new = second_factor.renew_codes(scope, practice.assistant)

    assert (opens(practice, old[0]), opens(practice, new[0])) == (False, True)


def test_recovery_codes_are_kept_as_hashes_only(practice: Practice) -> None:
    _, codes = switched_on(practice, practice.assistant)
    with practice.store.engine.connect() as connection:
        kept = str(connection.execute(text("SELECT * FROM recovery_code")).all())

    assert not [code for code in codes if code in kept or code.replace("-", "") in kept]


def test_a_colleague_s_code_opens_nothing(practice: Practice) -> None:
    switched_on(practice, practice.assistant)
    secret, codes = switched_on(practice, practice.front_desk)

    assert not opens(practice, codes[0])
    with time_machine.travel(now() + timedelta(minutes=2), tick=False):
        assert not opens(practice, code_now(secret))


def test_switched_off_by_an_administrator_the_person_is_told_by_whom(practice: Practice) -> None:
    switched_on(practice, practice.assistant)
    with practice.store.writing(practice.assistant.practice_id) as scope:
        second_factor.switch_off_factor(scope, practice.administrator, practice.assistant.staff_id)
        state = second_factor.factor_of(scope, practice.assistant.staff_id)

    assert (state.on, state.off_by) == (False, "Ruan Teale")
    assert not log_ins.log_in(practice.store, login="tomke", password=PASSWORD).code_asked


def ask(practice: Practice, actor: Actor, *, asked: bool = True) -> None:
    with practice.store.writing(actor.practice_id) as scope:
        second_factor.ask_administrators(scope, actor, asked=asked)


def test_nobody_asks_for_what_they_do_not_have(practice: Practice) -> None:
    """They would shut themselves out."""
    with pytest.raises(InputError, match="your own second factor first"):
        ask(practice, practice.administrator)


def test_an_administrator_without_the_factor_asked_for_has_no_more_than_their_page(practice: Practice) -> None:
    with practice.store.writing(practice.dentist.practice_id) as scope:
        staff = scope.get(second_factor.Staff, practice.dentist.staff_id, "person")
        staff.administers = True
        scope.session.add(staff)
    switched_on(practice, practice.administrator)
    ask(practice, practice.administrator)
    dentist = log_ins.log_in(practice.store, login="wilna", password=PASSWORD)
    inside = log_ins.logged_in(practice.store, dentist.token, idle_minutes=30)

    assert inside is not None
    assert (inside.actor.role, inside.actor.administers, inside.factor_due) == ("dentist", False, False)


def test_whoever_must_have_one_cannot_switch_it_off(practice: Practice) -> None:
    switched_on(practice, practice.administrator)
    ask(practice, practice.administrator)

    with (
        pytest.raises(InputError, match="asks administrators"),
        practice.store.writing(practice.administrator.practice_id) as scope,
    ):
        second_factor.switch_off_factor(scope, practice.administrator, practice.administrator.staff_id)


def test_a_second_one_is_not_set_up_over_the_first(practice: Practice) -> None:
    """A stolen log-in cannot replace the telephone."""
    with practice.store.writing(practice.assistant.practice_id) as scope:
        with_factor(scope, practice.assistant)

    with (
        pytest.raises(InputError, match="on already"),
        practice.store.writing(practice.assistant.practice_id) as scope,
    ):
        second_factor.begin_factor(scope, practice.assistant)


def test_a_secret_waits_half_an_hour_for_its_first_code(practice: Practice) -> None:
    with practice.store.writing(practice.assistant.practice_id) as scope:
        secret = second_factor.begin_factor(scope, practice.assistant)
    with (
        time_machine.travel(now() + timedelta(minutes=31), tick=False),
        pytest.raises(InputError, match="nothing waits"),
        practice.store.writing(practice.assistant.practice_id) as scope,
    ):
        second_factor.confirm_factor(scope, practice.assistant, code_now(secret))
