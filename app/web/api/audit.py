"""``POST /api/audit``: a series file in, its audit out; nothing is kept."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import JSONResponse
from pydantic import BaseModel

from app.core.coverage import audit
from app.exchange.audit_report import audit_report
from app.exchange.json_text import read_json
from app.exchange.series_file import read_series
from app.exchange.shared_data import builtin_templates, corrections

router = APIRouter(tags=["audit"])


class ErrorDetail(BaseModel):
    """What is wrong, and where."""

    status: int
    path: str
    message: str


class ErrorAnswer(BaseModel):
    """The one shape of every error."""

    error: ErrorDetail


class HealthAnswer(BaseModel):
    """The server runs and reads its database."""

    status: str


def _answer(body: bytes) -> dict[str, Any]:
    series = read_series(read_json(body, "request body"), builtin_templates())
    return audit_report(audit(series, corrections()))


@router.post(
    "/api/audit",
    summary="Audit a series",
    description="Takes a series file (format fullcount-series/1) and answers its audit (format fullcount-audit/1)."
    " Needs no log-in and keeps nothing.",
    response_model=dict[str, Any],
    responses={
        413: {"model": ErrorAnswer, "description": "larger than any series file"},
        422: {"model": ErrorAnswer, "description": "the path names the field that is wrong"},
    },
    openapi_extra={
        "requestBody": {
            "required": True,
            "content": {
                "application/json": {
                    "schema": {
                        "type": "object",
                        "required": ["format", "template"],
                        "properties": {
                            "format": {"const": "fullcount-series/1"},
                            "template": {"oneOf": [{"type": "string"}, {"type": "object"}]},
                            "numbering": {"enum": ["iso3950", "universal", "quadrant"]},
                            "dentition_kind": {"enum": ["permanent", "mixed", "primary"]},
                            "dentition": {"type": "object"},
                            "roots": {"type": "object"},
                            "closed_spaces": {"type": "array"},
                            "exempt": {"type": "array"},
                            "policy": {"type": "object"},
                            "exposures": {"type": "array"},
                        },
                    }
                }
            },
        }
    },
)
async def audit_a_series(request: Request) -> JSONResponse:
    """Read the body ourselves: its faults are told in our own words, with the field's path."""
    return JSONResponse(await run_in_threadpool(_answer, await request.body()))
