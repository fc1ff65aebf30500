"""Retakes: ordered under a dentist's name, and linked to the image they repeat once taken."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from app.core.errors import InputError
from app.core.exposures import ShortfallCode
from app.storage.columns import now
from app.storage.practice_scope import PracticeScope
from app.storage.series import ExposureRow, RetakeOrder, SeriesRow
from app.work.actor import CHAIRSIDE, Actor, require
from app.work.audit_series import audit_of, exposures_of, frozen_template
from app.work.start_series import dentist_of, open_series

NOT_TAKEN = "not_taken"
"""Reason of an order for a slot that has no image yet."""


def orders_of(scope: PracticeScope, series_id: str) -> Sequence[RetakeOrder]:
    """Orders of a series that wait for their exposure, in the order given."""
    query = scope.select(RetakeOrder).where(RetakeOrder.series_id == series_id)
    rows = scope.all(query.order_by(RetakeOrder.ordered_at))  # type: ignore[arg-type]
    return [row for row in rows if row.fulfilled_by is None and row.withdrawn_at is None]


def order_retake(
    scope: PracticeScope,
    actor: Actor,
    series_id: str,
    *,
    slot: str,
    authorised_by: str,
    reason: str = "",
    repeats: str = "",
    at: datetime | None = None,
) -> RetakeOrder:
    """Open a slot for one more exposure.

    Parameters
    ----------
    slot : any slot of the template, supplementary ones too
    authorised_by : the dentist who says that one more exposure is justified
    reason : shortfall code; by default the fault of the image that it repeats
    repeats : id of that image; by default the slot's latest (a supplementary view may repeat another slot's)
    at : moment of the order; now by default

    Raises
    ------
    InputError
        Names the field.
    """
    require(actor, CHAIRSIDE, "order a retake")
    row = open_series(scope, series_id)
    wanted = frozen_template(row).slot(slot)
    dentist = dentist_of(scope, authorised_by, "authorised_by")
    if any(order.slot == slot for order in orders_of(scope, series_id)):
        raise InputError("slot", f"a retake of {wanted.title} is ordered already. Load its image, or withdraw it")
    rows = exposures_of(scope, series_id)
    latest = latest_in_slot(rows, slot)
    if repeats:
        latest = next((each for each in rows if each.id == repeats and each.set_aside_reason is None), None)
        if latest is None:
            raise InputError("repeats", "the image to repeat is not of this series. Load the page again")
    chosen = reason or _fault_of(latest)
    known = [code.value for code in ShortfallCode] + [NOT_TAKEN]
    if chosen not in known:
        raise InputError("reason", "choose the fault that makes a retake necessary from the list")
    planned = {each.slot: each.advice for each in audit_of(scope, series_id).audit.plan.exposures}
    row.version += 1
    scope.session.add(row)
    return scope.add(
        RetakeOrder(
            series_id=series_id,
            slot=slot,
            repeats=latest.id if latest is not None else None,
            reason=chosen,
            advice=planned.get(slot, ""),
            authorised_by=dentist.id,
            ordered_by=actor.staff_id,
            ordered_at=at or now(),
        )
    )


def latest_in_slot(rows: Sequence[ExposureRow], slot: str) -> ExposureRow | None:
    """The latest exposure of a slot that was not set aside."""
    standing = [row for row in rows if row.slot == slot and row.set_aside_reason is None]
    return standing[-1] if standing else None


def _fault_of(exposure: ExposureRow | None) -> str:
    if exposure is None:
        return NOT_TAKEN
    return str(exposure.shortfalls[0]["code"]) if exposure.shortfalls else ""


def withdraw_order(scope: PracticeScope, actor: Actor, order_id: str) -> RetakeOrder:
    """Take an order back before its exposure is made."""
    require(actor, CHAIRSIDE, "withdraw a retake")
    order = scope.get(RetakeOrder, order_id, "retake order")
    row = open_series(scope, order.series_id)
    if order.fulfilled_by is not None:
        raise InputError("order", "this retake has been taken; an exposure is never undone")
    order.withdrawn_at = order.withdrawn_at or now()
    row.version += 1
    scope.session.add(order)
    scope.session.add(row)
    return order


def link_to_order(scope: PracticeScope, row: SeriesRow, exposure: ExposureRow) -> None:
    """Where its slot waits for a retake, make this exposure that retake."""
    made_in_order = {each.id: each.position for each in exposures_of(scope, row.id)}
    for order in orders_of(scope, row.id):
        # A retake is made after what it repeats: an older image that moves here is not it.
        if order.slot == exposure.slot and made_in_order.get(order.repeats or "", 0) < exposure.position:
            order.fulfilled_by = exposure.id
            exposure.retake_of = order.repeats
            exposure.retake_reason = order.reason
            scope.session.add(order)
            scope.session.add(exposure)
            return


def unlink_from_order(scope: PracticeScope, exposure: ExposureRow) -> None:
    """The exposure leaves its slot: the order it fulfilled waits again."""
    exposure.retake_of = None
    exposure.retake_reason = None
    scope.session.add(exposure)
    for order in scope.all(scope.select(RetakeOrder).where(RetakeOrder.fulfilled_by == exposure.id)):
        order.fulfilled_by = None
        scope.session.add(order)
