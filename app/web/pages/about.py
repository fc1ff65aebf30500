"""Pages about the program: its cautions, its parts, what it offers to programs, its mark."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, Response

from app.exchange.shared_data import Criterion, criteria
from app.web.rendering import FieldError, View, render
from app.web.static_files import STATIC

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, kw_only=True)
class CautionsView(View):
    """What the program is and is not; ``criteria`` are the settings on which sources differ."""

    criteria: tuple[Criterion, ...]


@dataclass(frozen=True, kw_only=True)
class PatternsView(View):
    """All parts together; ``examples`` are errors as a form shows them."""

    examples: tuple[FieldError, ...]


@dataclass(frozen=True, kw_only=True)
class Operation:
    """One address of the JSON side."""

    method: str
    path: str
    summary: str
    description: str
    answers: tuple[tuple[str, str], ...]


@dataclass(frozen=True, kw_only=True)
class ApiView(View):
    """The JSON side, listed."""

    operations: tuple[Operation, ...]


@router.get("/cautions")
def show_cautions(request: Request) -> Response:
    """What this program is and is not."""
    view = CautionsView(heading="What fullcount is, and is not", criteria=tuple(criteria().values()))
    return render(request, "pages/cautions.html", view)


@router.get("/patterns")
def show_patterns(request: Request) -> Response:
    """Every part of the pages, in every state."""
    view = PatternsView(
        heading="Parts of the pages",
        examples=(
            FieldError(field="example-date", message="Enter the date the image was taken, like 2026-03-27."),
            FieldError(field="", message="An error of the whole form has no field to lead to."),
        ),
    )
    return render(request, "pages/patterns.html", view)


@router.get("/api")
def show_api(request: Request) -> Response:
    """The JSON side, listed plainly from its description."""
    described = request.app.openapi()
    operations = tuple(
        Operation(
            method=method.upper(),
            path=path,
            summary=operation.get("summary", ""),
            description=operation.get("description", ""),
            answers=tuple((code, each["description"]) for code, each in operation["responses"].items()),
        )
        for path, methods in described["paths"].items()
        for method, operation in methods.items()
    )
    return render(request, "pages/api.html", ApiView(heading="For programs", operations=operations))


@router.get("/favicon.ico")
def show_mark() -> Response:
    """The mark, for browsers that ask at the usual address."""
    return FileResponse(
        STATIC / "favicon.svg", media_type="image/svg+xml", headers={"Cache-Control": "public, max-age=86400"}
    )
