"""Who administers the program: by role, or as a duty beside another; never nobody."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import or_
from sqlmodel import col

from app.core.errors import InputError
from app.storage.people import Staff
from app.storage.practice_scope import PracticeScope
from app.work.actor import ADMINISTRATORS, Actor, Role, require


def administrators_of(scope: PracticeScope) -> Sequence[Staff]:
    """Everybody who administers and can log in, by name."""
    query = scope.select(Staff).where(
        or_(col(Staff.administers), col(Staff.role) == Role.ADMINISTRATOR.value), col(Staff.retired).is_(False)
    )
    # Two who take the duty from each other at the same moment wait here: the second then counts without the first.
    return scope.all(query.order_by(Staff.name).with_for_update())


def keep_an_administrator(scope: PracticeScope, staff: Staff) -> None:
    """Refuse what would leave nobody who administers.

    Parameters
    ----------
    staff : the person who is to stop administering, or whose log-in is to close

    Raises
    ------
    InputError
        Nobody else administers.
    """
    if not any(each.id != staff.id for each in administrators_of(scope)):
        raise InputError(
            "staff",
            f"{staff.name} is the last who administers the program. Give a colleague that duty first",
        )


def set_duty(scope: PracticeScope, actor: Actor, staff_id: str, *, administers: bool) -> Staff:
    """Have a person administer the program beside their role, or no longer.

    Raises
    ------
    InputError
        The person is an administrator by role, their log-in is closed, or nobody would be left.
    """
    require(actor, ADMINISTRATORS, "choose who administers the program")
    staff = scope.get(Staff, staff_id, "person")
    if staff.role == Role.ADMINISTRATOR:
        raise InputError("staff", f"{staff.name} is an administrator by role. Close the log-in instead")
    if administers and staff.retired:
        raise InputError("staff", f"the log-in of {staff.name} is closed. Open it first")
    if staff.administers and not administers:
        keep_an_administrator(scope, staff)
    staff.administers = administers
    scope.session.add(staff)
    scope.session.flush()
    return staff
