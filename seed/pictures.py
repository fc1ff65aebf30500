"""Pictures of the demo: drawings marked as drawings, spoilt a little where the invented image has a fault."""

from __future__ import annotations

import io
from collections.abc import Sequence

from PIL import Image, ImageChops, ImageDraw, ImageFilter

from app.core.exposures import Shortfall, ShortfallCode
from app.core.targets import kind, teeth
from app.core.teeth import arch, arch_rank
from app.core.templates import Slot
from app.imaging.drawing import draw_placeholder

LONG_SIDE_PX, SHORT_SIDE_PX = 400, 300


def picture_of(slot: Slot, shortfalls: Sequence[Shortfall], seed: int) -> bytes:
    """A PNG for the slot; the same for the same seed, another for any other."""
    upright = slot.receptor is not None and slot.receptor.orientation == "portrait"
    width, height = (SHORT_SIDE_PX, LONG_SIDE_PX) if upright else (LONG_SIDE_PX, SHORT_SIDE_PX)
    shown = sorted({teeth(target)[0] for target in slot.shows if kind(target) == "crown"}, key=arch_rank)
    permanent = [tooth for tooth in shown if tooth[0] in "1234"] or shown
    drawn = draw_placeholder(
        width=width,
        height=height,
        seed=seed,
        kind=slot.kind,
        teeth=permanent,
        upper=bool(permanent) and arch(permanent[0]) == "upper",
    )
    if not shortfalls:
        return drawn
    picture = Image.open(io.BytesIO(drawn)).convert("L")
    for shortfall in shortfalls:
        picture = _spoilt(picture, shortfall.code)
    out = io.BytesIO()
    picture.save(out, "PNG", compress_level=1)
    return out.getvalue()


def _spoilt(picture: Image.Image, code: ShortfallCode) -> Image.Image:
    width, height = picture.size
    match code:
        case ShortfallCode.BLURRED:
            return picture.filter(ImageFilter.GaussianBlur(4))
        case ShortfallCode.TOO_LIGHT:
            return picture.point(lambda level: 150 + level * 0.4)
        case ShortfallCode.CONE_CUT:
            cut = picture.copy()
            ImageDraw.Draw(cut).ellipse((-width * 0.6, -height * 0.8, width * 0.32, height * 1.6), fill=238)
            return cut
        case ShortfallCode.APEX_CUT_OFF | ShortfallCode.CROWN_CUT_OFF:
            return ImageChops.offset(picture, 0, -height // 5)
        case ShortfallCode.WRONG_REGION:
            return ImageChops.offset(picture, width // 3, 0)
        case ShortfallCode.FORESHORTENED | ShortfallCode.ELONGATED:
            factor = 0.7 if code is ShortfallCode.FORESHORTENED else 1.35
            return picture.resize((width, int(height * factor))).resize((width, height))
        case ShortfallCode.ARTIFACT:
            marked = picture.copy()
            ImageDraw.Draw(marked).line((0, height * 0.7, width, height * 0.2), fill=250, width=5)
            return marked
        case _:
            return picture
