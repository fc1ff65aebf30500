"""``/ready`` and ``/metrics``: for the machine that watches the server."""

from __future__ import annotations

import ipaddress
import secrets
from typing import Any

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import JSONResponse, Response
from pydantic import BaseModel

from app.settings import Settings
from app.web.dependencies import SettingsDep
from app.web.metrics import CONTENT_TYPE, Metrics
from app.web.readiness import Readiness
from app.work.actor import NotAllowed

router = APIRouter(tags=["service"])

PASSED_ON = ("x-forwarded-for", "x-real-ip", "forwarded", "via")
"""Headers by which a proxy shows that it asks for somebody else."""


class ReadyAnswer(BaseModel):
    """Whether the server can do its work; ``faulty`` names the parts that cannot."""

    status: str
    faulty: list[str]


def may_watch(request: Request, settings: Settings) -> bool:
    """Whether somebody may see how the server does: this machine itself, or who sends the token.

    A proxy on this machine asks from here for everybody; what it passes on counts as coming from elsewhere.
    """
    token = settings.metrics_token.get_secret_value()
    scheme, _, given = request.headers.get("authorization", "").partition(" ")
    if token and scheme.lower() == "bearer" and secrets.compare_digest(given.strip().encode(), token.encode()):
        return True
    if request.client is None or any(name in request.headers for name in PASSED_ON):
        return False
    try:
        return ipaddress.ip_address(request.client.host).is_loopback
    except ValueError:
        return False


@router.get(
    "/ready",
    summary="Whether the server can take work",
    description="Tries the database and its revision, the data folder, the free disk space and the processes that"
    " read image files. What is wrong with a part is told to this machine and to who sends the token only.",
    response_model=ReadyAnswer,
    responses={503: {"model": ReadyAnswer, "description": "it cannot; faulty names the parts"}},
)
async def ready(request: Request, settings: SettingsDep) -> JSONResponse:
    """Try every part."""
    readiness: Readiness = request.app.state.readiness
    parts = await readiness.parts()
    faulty = {part.name: part.fault for part in parts if part.fault}
    answer: dict[str, Any] = {"status": "not ready" if faulty else "ready", "faulty": list(faulty)}
    if faulty and may_watch(request, settings):
        answer["details"] = faulty
    return JSONResponse(answer, status_code=503 if faulty else 200)


@router.get("/metrics", include_in_schema=False)
async def metrics(request: Request, settings: SettingsDep) -> Response:
    """Counts and times in the text format of Prometheus."""
    if not may_watch(request, settings):
        raise NotAllowed("The metrics are told to this machine, and to who sends the token of its settings.")
    kept: Metrics = request.app.state.metrics
    # The content type names its own version of the format.
    return Response(await run_in_threadpool(kept.text), headers={"Content-Type": CONTENT_TYPE})
