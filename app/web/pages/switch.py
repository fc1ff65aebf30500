"""Change person at a shared machine: touch a name, type the PIN."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from app.web.cookies import SESSION_COOKIE, cookie_of, machine_of, take
from app.web.dependencies import Posted, SettingsDep, StoreDep
from app.web.leading import if_open_to, own_address, where_from
from app.web.notes import go_to
from app.web.pages.going import let_in
from app.web.rendering import FieldError, View, render
from app.web.throttle import MustWait, place_of, slowed
from app.work import log_ins, pins
from app.work.machines import PersonHere, people_here
from app.work.tries import Kind

router = APIRouter(include_in_schema=False)

ADDRESS = "/switch"


@dataclass(frozen=True, kw_only=True)
class SwitchView(View):
    """Who may come back here.

    Parameters
    ----------
    people : with a PIN that opens here; ``me`` is the id of the one logged in now, or empty
    shut : names whose PIN does not open any more
    chosen : id of the row that is ticked
    next : where a right PIN leads
    """

    people: list[PersonHere]
    shut: list[str]
    chosen: str
    me: str
    next: str


def _page(
    request: Request,
    store: StoreDep,
    settings: SettingsDep,
    target: str,
    *,
    chosen: str = "",
    error: str = "",
    status: int = 200,
) -> Response:
    found = people_here(store, machine_of(request), pin_hours=settings.pin_hours)
    login = request.state.login
    people = [each for each in found if not each.shut]
    mine = [each.id for each in people if login is not None and each.staff_id == login.actor.staff_id]
    others = [each.id for each in people if each.id not in mine]
    view = SwitchView(
        heading="Change person",
        errors=(FieldError(field="pin" if people else "", message=error),) if error else (),
        people=people,
        shut=[each.name for each in found if each.shut],
        # One touch less where it can only be one person.
        chosen=chosen or (others[0] if len(others) == 1 else ""),
        me=mine[0] if mine else "",
        next=target,
    )
    return render(request, "pages/switch.html", view, status=status)


@router.get(ADDRESS)
def show_switch(request: Request, store: StoreDep, settings: SettingsDep, next: str = "") -> Response:
    """The people whom this machine knows."""
    target = own_address(next) if next else where_from(request)
    return _page(request, store, settings, "/" if target.startswith((ADDRESS, "/login")) else target)


@router.post(ADDRESS)
def change(request: Request, store: StoreDep, settings: SettingsDep, form: Posted) -> Response:
    """Try the PIN; a right one begins a log-in of that person, and ends the one before."""
    chosen, target, place = form.text("person"), own_address(form.text("next", "/")), place_of(request)
    here = {each.id: each for each in people_here(store, place.machine, pin_hours=settings.pin_hours)}
    if chosen not in here:
        message = "Touch your name first, then type your PIN."
        return _page(request, store, settings, target, error=message, status=422)

    def attempt() -> log_ins.Begun:
        pin = "".join(form.text("pin").split())
        return pins.open_by_pin(store, chosen, pin, place=place, pin_hours=settings.pin_hours)

    try:
        begun = slowed(store, Kind.PIN, here[chosen].staff_id, place, attempt)
    except MustWait as slow:
        return _page(request, store, settings, target, chosen=chosen, error=str(slow), status=429)
    except (pins.WrongPin, pins.PinShut) as wrong:
        return _page(request, store, settings, target, chosen=chosen, error=f"{wrong}.", status=401)
    return let_in(request, store, begun, if_open_to(begun.actor, target))


@router.post(f"{ADDRESS}/lock")
def lock(request: Request, store: StoreDep, settings: SettingsDep, form: Posted) -> Response:
    """Leave the machine to nobody: the log-in ends, the PIN brings the person back to the same page."""
    token = cookie_of(request, SESSION_COOKIE)
    if token:
        log_ins.lock(store, token)
    target = own_address(form.text("next", "/"))
    answer: RedirectResponse = go_to(
        ADDRESS if target == "/" else f"{ADDRESS}?{urlencode({'next': target})}", "locked"
    )
    take(answer, settings, SESSION_COOKIE)
    return answer
