"""Errors as answers: one page for people, one JSON shape for programs.

::

    {"error": {"status": 422, "path": "exposures[3].slot", "message": "no slot …"}}
"""

from __future__ import annotations

import logging
from dataclasses import dataclass
from urllib.parse import urlencode

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, RedirectResponse, Response
from sqlalchemy.exc import DBAPIError
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect

from app.core.errors import FullcountError, InputError
from app.imaging.errors import ImageRefused
from app.storage.image_store import ImageMissing
from app.storage.practice_scope import NotFound, RecordMerged
from app.storage.trouble import DatabaseBusy, DataFolderTrouble, DiskFull, trouble_of
from app.web.access import LogInNeeded
from app.web.csrf import ForeignRequest
from app.web.dependencies import identify
from app.web.headers import HEADERS
from app.web.rendering import View, render
from app.web.request_id import HEADER
from app.work.actor import NotAllowed
from app.work.log_ins import WrongLogIn

log = logging.getLogger("fullcount")

STATUS: tuple[tuple[type[Exception], int], ...] = (
    (NotFound, 404),
    (ImageMissing, 404),
    (NotAllowed, 403),
    (ForeignRequest, 403),
    (WrongLogIn, 401),
    (ImageRefused, 422),
    (InputError, 422),
    (DiskFull, 507),
    (DataFolderTrouble, 503),
    (FullcountError, 409),
)
"""HTTP status of each kind of error; the first that fits."""

RETRY_AFTER_S = "5"
"""How long whoever meets a busy database is asked to wait."""

HEADINGS = {
    400: "Not a proper request",
    401: "Log in first",
    403: "Not open to you",
    404: "Nothing here",
    405: "Not done this way",
    408: "Too slow",
    409: "This cannot be done now",
    413: "Too large",
    414: "Too long",
    415: "Not in this form",
    421: "Not a name of this server",
    422: "Something is not right",
    429: "One moment",
    431: "Too large",
    500: "The program has failed",
    503: "Not possible at this moment",
    507: "The disk is full",
}


@dataclass(frozen=True, kw_only=True)
class ErrorView(View):
    """A page that says what went wrong; ``request_id`` finds it in the log."""

    status: int
    message: str
    request_id: str


def wants_json(request: Request) -> bool:
    """Whether a program asks (or a script of our own), not a person."""
    accepts = request.headers.get("accept", "")
    return request.url.path.startswith("/api/") or ("application/json" in accepts and "text/html" not in accepts)


def error_answer(request: Request, status: int, message: str, path: str = "", heading: str = "") -> Response:
    """The error as page or JSON; ``heading`` where the status alone would say too little."""
    if wants_json(request):
        return JSONResponse({"error": {"status": status, "path": path, "message": message}}, status_code=status)
    return render(
        request,
        "pages/error.html",
        ErrorView(
            heading=heading or HEADINGS.get(status, "This did not work"),
            status=status,
            message=f"{path}: {message}" if path else message,
            request_id=getattr(request.state, "request_id", ""),
        ),
        status=status,
    )


def status_of(error: Exception) -> int:
    """The HTTP status that fits an error."""
    return next((status for kind, status in STATUS if isinstance(error, kind)), 500)


async def _on_fullcount_error(request: Request, error: Exception) -> Response:
    if isinstance(error, ForeignRequest):
        request.state.refused = "sent from another site, or from a page open too long"
        return error_answer(request, status_of(error), str(error), heading="Nothing was done")
    message = error.message if isinstance(error, InputError) else str(error)
    return error_answer(request, status_of(error), message, error.path if isinstance(error, InputError) else "")


async def _on_record_merged(request: Request, error: Exception) -> Response:
    """Pages of a record that was merged lead to the one that goes on."""
    assert isinstance(error, RecordMerged)
    target = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    if request.method in ("GET", "HEAD") and error.row_id in target and not wants_json(request):
        return RedirectResponse(target.replace(error.row_id, error.kept_id), status_code=303)
    return error_answer(request, 409, str(error))


async def _on_storage_trouble(request: Request, error: Exception) -> Response:
    trouble = trouble_of(error)
    if trouble is None:
        raise error
    log.error("%s %s: %s", request.method, request.url.path, trouble, exc_info=error)
    answer = error_answer(request, status_of(trouble), f"{trouble}.")
    if isinstance(trouble, DatabaseBusy):
        answer.headers["Retry-After"] = RETRY_AFTER_S
    return answer


async def _on_log_in_needed(request: Request, _error: Exception) -> Response:
    if wants_json(request) or request.method not in ("GET", "HEAD"):
        return error_answer(request, 401, "Your log-in has ended. Log in again, then repeat this.")
    target = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    return RedirectResponse(
        f"/login?{urlencode({'next': target})}" if target != "/" else "/login", status_code=303
    )


async def _on_http_error(request: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 500
    if not hasattr(request.state, "login"):
        # No route, so nobody has looked at the cookie yet: the page's header still shows who is logged in.
        await identify(request)
    words = {
        404: "There is no page at this address. Check it, or begin at the home page.",
        405: "This address does not take that method.",
    }
    detail = str(error.detail) if isinstance(error, HTTPException) else ""
    answer = error_answer(request, status, words.get(status, detail or "This did not work."))
    if isinstance(error, HTTPException) and error.headers:
        answer.headers.update(error.headers)
    return answer


async def _on_invalid_request(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    first = error.errors()[0]
    path = ".".join(str(part) for part in first["loc"][1:])
    return error_answer(request, 422, f"{first['msg']}. Correct it and send it again.", path)


async def _on_failure(request: Request, error: Exception) -> Response:
    # Not the address: it may name somebody. The request's line, with the same number, has the route.
    number = getattr(request.state, "request_id", "")
    log.error("a request failed", exc_info=error, extra={"request_id": number})
    error.told_in_log = True  # type: ignore[attr-defined]
    answer = error_answer(
        request, 500, "This is a fault of the program, not yours. Nothing was half written; try again."
    )
    # This answer is made outside the middleware that adds them otherwise.
    answer.headers.update(HEADERS)
    answer.headers[HEADER] = number
    return answer


async def _on_gone(_request: Request, _error: Exception) -> Response:
    # Nobody reads this answer: whoever asked closed the connection while sending.
    return Response(status_code=400)


def install_error_handlers(application: FastAPI) -> None:
    """Have every error answered in its one shape."""
    application.add_exception_handler(FullcountError, _on_fullcount_error)
    application.add_exception_handler(RecordMerged, _on_record_merged)
    application.add_exception_handler(DBAPIError, _on_storage_trouble)
    application.add_exception_handler(OSError, _on_storage_trouble)
    application.add_exception_handler(LogInNeeded, _on_log_in_needed)
    application.add_exception_handler(HTTPException, _on_http_error)
    application.add_exception_handler(RequestValidationError, _on_invalid_request)
    application.add_exception_handler(ClientDisconnect, _on_gone)
    application.add_exception_handler(Exception, _on_failure)
