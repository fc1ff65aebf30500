"""Whether the server is well, and what the JSON side offers."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from sqlalchemy import text

from app.web.api.audit import ErrorAnswer, HealthAnswer
from app.web.dependencies import StoreDep

router = APIRouter(tags=["service"])


@router.get(
    "/health",
    summary="Whether the server runs and reads its database",
    responses={500: {"model": ErrorAnswer, "description": "it does not"}},
)
def health(store: StoreDep) -> HealthAnswer:
    """Ask the database for one number."""
    with store.reading() as scope:
        scope.session.connection().execute(text("select 1"))
    return HealthAnswer(status="ok")


@router.get("/openapi.json", summary="This description", include_in_schema=False)
def openapi(request: Request) -> dict[str, Any]:
    """The OpenAPI description of the JSON side."""
    description: dict[str, Any] = request.app.openapi()
    return description
