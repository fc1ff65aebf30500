"""The use cases of log-ins as each role tries them, and as another practice does."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from app.storage.columns import now
from app.storage.practice_scope import PracticeScope
from app.work import log_in_list, own_password, pins, second_factor, session_rows
from app.work.actor import ADMINISTRATORS, EVERYBODY, TEAM, Actor

ROOMS = (log_in_list, own_password, pins, second_factor)
PIN = "402817"


def with_factor(scope: PracticeScope, actor: Actor) -> str:
    """The person's second factor is on; answers its secret."""
    secret = second_factor.begin_factor(scope, actor)
    second_factor.confirm_factor(scope, actor, code_now(secret))
    return secret


def code_now(secret: str, steps: int = 0) -> str:
    """The code that a telephone shows now, or some steps from now."""
    return second_factor.code_at(secret, second_factor.step_of(now()) + steps)


def a_log_in(scope: PracticeScope, staff_id: str) -> str:
    """A log-in under way; answers its key."""
    return session_rows.key_of(session_rows.begin_session(scope, staff_id, way=session_rows.PASSWORD))


def USE_CASES(
    colleague_of: Callable[[Actor, Any], Actor],
) -> dict[str, tuple[frozenset[Any], Callable[..., object]]]:
    """What each role may, and the doing."""
    c = colleague_of
    return {
        "own_hash": (EVERYBODY, lambda s, a, on: own_password.own_hash(on.practice.store, a)),
        "log_ins_of, one's own": (
            EVERYBODY,
            lambda s, a, on: log_in_list.log_ins_of(s, a, a.staff_id, idle_minutes=30),
        ),
        "log_ins_of, a colleague's": (
            ADMINISTRATORS,
            lambda s, a, on: log_in_list.log_ins_of(s, a, c(a, on).staff_id, idle_minutes=30),
        ),
        "end_log_in, one's own": (
            EVERYBODY,
            lambda s, a, on: log_in_list.end_log_in(s, a, a.staff_id, a_log_in(s, a.staff_id)),
        ),
        "end_log_in, a colleague's": (
            ADMINISTRATORS,
            lambda s, a, on: log_in_list.end_log_in(s, a, c(a, on).staff_id, a_log_in(s, c(a, on).staff_id)),
        ),
        "end_log_ins, one's own": (EVERYBODY, lambda s, a, on: log_in_list.end_log_ins(s, a, a.staff_id)),
        "end_log_ins, a colleague's": (
            ADMINISTRATORS,
            lambda s, a, on: log_in_list.end_log_ins(s, a, c(a, on).staff_id),
        ),
        "colleagues": (ADMINISTRATORS, lambda s, a, on: log_in_list.colleagues(s, a, idle_minutes=30)),
        "set_pin": (TEAM, lambda s, a, on: pins.set_pin(s, a, PIN, PIN)),
        "remove_pin": (TEAM, lambda s, a, on: pins.remove_pin(s, a)),
        "begin_factor": (EVERYBODY, lambda s, a, on: second_factor.begin_factor(s, a)),
        "confirm_factor": (EVERYBODY, lambda s, a, on: with_factor(s, a)),
        "renew_codes": (
            EVERYBODY,
            lambda s, a, on: (with_factor(s, a), second_factor.renew_codes(s, a)),
        ),
        "switch_off_factor, one's own": (
            EVERYBODY,
            lambda s, a, on: second_factor.switch_off_factor(s, a, a.staff_id),
        ),
        "switch_off_factor, a colleague's": (
            ADMINISTRATORS,
            lambda s, a, on: second_factor.switch_off_factor(s, a, c(a, on).staff_id),
        ),
        "ask_administrators": (
            ADMINISTRATORS,
            lambda s, a, on: second_factor.ask_administrators(s, a, asked=False),
        ),
    }


def REACHING() -> dict[str, Callable[[PracticeScope, Any], object]]:
    """An administrator of another practice asks for a person of this one."""

    def theirs(t: Any) -> str:
        return str(t.practice.assistant.staff_id)

    return {
        "log_ins_of": lambda s, t: log_in_list.log_ins_of(s, administering(t), theirs(t), idle_minutes=30),
        "end_log_in": lambda s, t: log_in_list.end_log_in(s, administering(t), theirs(t), "0" * 64),
        "end_log_ins": lambda s, t: log_in_list.end_log_ins(s, administering(t), theirs(t)),
        "switch_off_factor": lambda s, t: second_factor.switch_off_factor(s, administering(t), theirs(t)),
    }


def administering(t: Any) -> Actor:
    """The stranger, with an administrator's rights in their own practice."""
    from dataclasses import replace

    return replace(t.stranger, administers=True)
