"""A picture of an image, made from its grey levels; the file itself stays where it is."""

from __future__ import annotations

import threading
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from app.imaging.decode import ImageLimits, read_radiograph
from app.imaging.display import screen_png
from app.storage.practice_scope import NotFound, PracticeScope
from app.storage.series import ImageRow
from app.web.dependencies import CurrentActor, SettingsDep, StoreDep
from app.web.files_out import SHUT_IN

router = APIRouter(include_in_schema=False)

AT_ONCE = threading.BoundedSemaphore(2)
"""Pictures made at the same time: a large image decodes to hundreds of megabytes."""


def image_of(scope: PracticeScope, sha256: str) -> ImageRow:
    """The practice's image of that SHA-256.

    Raises
    ------
    NotFound
        No image of this practice; whether another has it is not told.
    """
    row = scope.first(scope.select(ImageRow).where(ImageRow.sha256 == sha256))
    if row is None:
        raise NotFound("no such image in this practice")
    return row


@router.get("/images/{sha256}")
def show_image(
    request: Request,
    sha256: str,
    actor: CurrentActor,
    store: StoreDep,
    settings: SettingsDep,
    side: Annotated[int | None, Query(ge=64, le=4096)] = None,
) -> Response:
    """The picture as PNG, at most ``side`` pixels along its longer side.

    The file never changes, so its name and the side make the tag; browsers ask again each time (through the
    log-in) and are mostly told that what they have still holds.
    """
    with store.reading(actor.practice_id) as scope:
        name = image_of(scope, sha256).sha256
    tag = f'"{name[:32]}-{side or "full"}"'
    headers = {"Cache-Control": "private, no-cache", "ETag": tag, "Vary": "Cookie"}
    # Made from the grey levels alone, whatever the file called itself and carried besides.
    headers |= {"Content-Disposition": 'inline; filename="image.png"', "Content-Security-Policy": SHUT_IN}
    if tag in request.headers.get("if-none-match", ""):
        return Response(status_code=304, headers=headers)
    with AT_ONCE:
        limits = ImageLimits(max_bytes=settings.max_upload_bytes, max_pixels=settings.max_pixels)
        picture = screen_png(read_radiograph(store.images.read(name), name=name, limits=limits), max_side=side)
    return Response(picture, media_type="image/png", headers=headers)
