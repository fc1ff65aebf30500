"""What is shown, sent or refused stands in the trail before it leaves: the outermost layer of the application."""

from __future__ import annotations

import logging
import secrets
from collections.abc import Mapping
from typing import Any

from fastapi import Request
from fastapi.concurrency import run_in_threadpool
from fastapi.routing import APIRoute
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from app.storage.database import Store
from app.storage.trail_doing import Doing, begin
from app.storage.trail_group import TrailWriter
from app.storage.trail_notes import Note, TrailNotWritten
from app.storage.trail_subjects import subject_of_address
from app.web import access
from app.web.noted_routes import NOTED, REFUSED, SAME_REFUSAL_S, Noted
from app.work.actor import Role

log = logging.getLogger("fullcount")

IN_DETAILS = ("sha256", "exposure_id", "sample_id", "position", "report_id", "import_id")
"""Parts of an address that say what was shown, and whom it is about only by way of the database."""


def begin_doing(request: Request) -> None:
    """From here on this request's person is who is at work, in whatever thread the work is done."""
    begin(_doing_of(request.scope))


def _doing_of(scope: Scope) -> Doing:
    state: dict[str, Any] = scope.setdefault("state", {})
    request_id = state.setdefault("request_id", secrets.token_hex(8))
    client, login, path = scope.get("client"), state.get("login"), _path_of(scope)
    actor = login.actor if login is not None else None
    return Doing(
        who=actor.staff_id if actor is not None else "",
        practice_id=actor.practice_id if actor is not None else "",
        acting_as=_role(actor, scope["method"], path) if actor is not None else "",
        from_where=client[0] if client else "",
        request_id=str(request_id),
        through=f"{scope['method']} {path}" if path else scope["method"],
    )


def _path_of(scope: Scope) -> str:
    """The route as it is written, never what stood in its place; empty where none was found."""
    route = scope.get("route")
    return route.path if isinstance(route, APIRoute) else ""


def _role(actor: Any, method: str, path: str) -> str:
    roles = access.ACCESS.get((method, path))
    administering = roles is not None and actor.role not in roles and actor.administers
    return str(Role.ADMINISTRATOR if administering else actor.role)


class Noting:
    """Writes views, exports and refusals before the answer begins.

    An image whose view cannot be written is not shown: a plain sentence with status 503 goes out in its place.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on, and look at the status of the answer before it is sent."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        replaced = False

        async def noted(message: Message) -> None:
            nonlocal replaced
            if message["type"] == "http.response.start":
                try:
                    await _note_answer(scope, message["status"])
                except TrailNotWritten as error:
                    log.exception("the trail cannot be written")
                    replaced = True
                    for each in _instead(str(error)):
                        await send(each)
            if not replaced:
                await send(message)

        await self.app(scope, receive, noted)


def _instead(sentence: str) -> tuple[Message, Message]:
    body = f"{sentence}\n".encode()
    headers = [
        (b"content-type", b"text/plain; charset=utf-8"),
        (b"content-length", str(len(body)).encode()),
        (b"cache-control", b"no-store"),
        (b"x-content-type-options", b"nosniff"),
        (b"retry-after", b"5"),
    ]
    return (
        {"type": "http.response.start", "status": 503, "headers": headers},
        {"type": "http.response.body", "body": body},
    )


async def _note_answer(scope: Scope, status: int) -> None:
    store: Store | None = getattr(scope["app"].state, "store", None)
    if store is None:
        return
    refused = scope.get("state", {}).get("refused") or REFUSED.get(status)
    noted = NOTED.get((scope["method"], _path_of(scope)))
    if refused:
        await run_in_threadpool(_note_refusal, store.trail, _doing_of(scope), str(refused), status)
    elif noted is not None and (status == 304 or 200 <= status < 300):
        await run_in_threadpool(_note_shown, store, noted, _doing_of(scope), scope.get("path_params") or {})


def note_start(store: Store) -> None:
    """The server started. It does so even where nothing can be written: it then shows and changes nothing."""
    try:
        store.trail.note(Note(kind="start", what="the server started"))
    except TrailNotWritten:
        log.exception("the start could not be put into the trail")


def _note_refusal(trail: TrailWriter, doing: Doing, why: str, status: int) -> None:
    said = Note(kind="refusal", what=why, details={"status": status}, doing=doing)
    try:
        trail.note_once(said, within_s=SAME_REFUSAL_S)
    except TrailNotWritten:
        # Refused it stays, whether or not it could be written.
        log.exception("a refusal could not be put into the trail")


def _note_shown(store: Store, noted: Noted, doing: Doing, parts: Mapping[str, Any]) -> None:
    details = {name: str(parts[name]) for name in IN_DETAILS if name in parts}

    def said() -> Note:
        # Looked up only where it is a new entry: eighteen pictures seen again ask the database nothing.
        with store.engine.connect() as connection:
            subject = subject_of_address(connection, doing.practice_id, parts)
        return Note(
            kind=noted.kind,
            what=noted.what,
            patient_id=subject.patient_id,
            series_id=subject.series_id,
            details=details,
            doing=doing,
        )

    if noted.once_s:
        own = tuple(str(value) for value in parts.values())
        key = (doing.who, doing.acting_as, doing.from_where, doing.through, *own)
        store.trail.note_lately(key, said, within_s=noted.once_s)
    else:
        store.trail.note(said())
