"""What is said of places in the image: unexposed areas, frames, lines, text, clipped areas."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from app.core.exposures import ShortfallCode
from app.imaging.collimation import Unexposed
from app.imaging.finding import Finding, FindingCode, Severity, graded
from app.imaging.framing import Frame
from app.imaging.measured import Measured
from app.imaging.planes import Box, Fields
from app.imaging.radiograph import Radiograph
from app.imaging.regions import grown
from app.imaging.thresholds import Thresholds


def cone_cut_findings(
    measured: Measured, fields: Fields, frame: Frame, factor: float, limits: Thresholds
) -> Iterator[Finding]:
    """Each unexposed area with its outline."""
    total = sum(area.share for area in measured.unexposed)
    severity = graded(total, limits["cone_cut.warning"], limits["cone_cut.fail"]) or Severity.NOTE
    if not limits["cone_cut.note"] <= total <= limits["cone_cut.most"]:
        return
    for area in measured.unexposed:
        rows, columns = np.nonzero(grown(area.mask))
        unit = fields.side * factor
        x0, y0 = frame.inner[0], frame.inner[1]
        right, bottom = x0 + frame.inner[2], y0 + frame.inner[3]
        left, top = x0 + int(columns.min() * unit), y0 + int(rows.min() * unit)
        # The last field may leave a rest too narrow for another one: the area reaches the edge all the same.
        far_x = right if columns.max() >= area.mask.shape[1] - 1 else x0 + int((columns.max() + 1) * unit)
        far_y = bottom if rows.max() >= area.mask.shape[0] - 1 else y0 + int((rows.max() + 1) * unit)
        grade = Severity.WARNING if severity is Severity.FAIL and area.sure < 0.3 else severity
        yield Finding(
            code=FindingCode.CONE_CUT,
            severity=grade,
            score=area.share,
            # Half for the least clear outline that is taken at all, the whole for a step and an arc beyond doubt.
            confidence=0.5 + 0.5 * area.sure,
            box=(left, top, far_x - left, far_y - top),
            outline=_outline(area, unit, (x0, y0), (right, bottom)),
            message=f"Cone cut: the beam missed {area.share:.0%} of the image, behind "
            f"{ {'arc': 'an arc', 'line': 'a straight edge'}.get(area.outline.shape, 'a corner') }.",
        )


def _outline(
    area: Unexposed, unit: float, origin: tuple[int, int], far: tuple[int, int]
) -> tuple[tuple[float, float], ...]:
    """Corners of the area: down along its left ends of rows, back up along the right ones."""
    lefts: list[tuple[float, float]] = []
    rights: list[tuple[float, float]] = []
    rows = np.nonzero(area.mask.any(axis=1))[0]
    rows = rows[:: max(1, len(rows) // 24)]
    chosen = area.mask[rows]
    firsts = chosen.argmax(axis=1).tolist()
    ends = (chosen.shape[1] - chosen[:, ::-1].argmax(axis=1)).tolist()
    for row, first, end in zip(rows.tolist(), firsts, ends, strict=True):
        y = min(origin[1] + int((row + 0.5) * unit), far[1])
        lefts.append((origin[0] + int(first * unit), y))
        rights.append((min(origin[0] + int(end * unit), far[0]), y))
    return (*lefts, *reversed(rights))


def border_findings(frame: Frame, radiograph: Radiograph, limits: Thresholds) -> Iterator[Finding]:
    """The frame around the radiograph."""
    around = len(frame.sides) >= 2 or frame.text
    # One plain dark side may as well be open space; it is left out of the measurements without a word.
    if frame.share < limits["bordered.note"] or not around:
        return
    heavy = frame.share >= limits["bordered.warning"]
    what = "A strip with text" if frame.text and len(frame.sides) == 1 else "A frame"
    yield Finding(
        code=FindingCode.BORDERED,
        severity=Severity.WARNING if heavy else Severity.NOTE,
        score=frame.share,
        confidence=0.9 if len(frame.sides) >= 3 or frame.text else 0.7,
        box=frame.inner,
        message=f"{what} takes {frame.share:.0%} of the file ({', '.join(frame.sides)}); the box is the rest.",
    )


def line_findings(measured: Measured, frame: Frame, factor: float, limits: Thresholds) -> Iterator[Finding]:
    """Each thin straight line, the five longest at most."""
    for line in measured.lines[:5]:
        (x1, y1), (x2, y2) = (
            (frame.inner[0] + x * factor, frame.inner[1] + y * factor) for x, y in (line.start, line.end)
        )
        half = 2 * factor
        long = max(1e-6, float(np.hypot(x2 - x1, y2 - y1)))
        across = (-(y2 - y1) / long * half, (x2 - x1) / long * half)
        corners = ((x1, y1, 1), (x2, y2, 1), (x2, y2, -1), (x1, y1, -1))
        right, bottom = frame.inner[0] + frame.inner[2], frame.inner[1] + frame.inner[3]
        outline = tuple(
            (
                round(min(max(x + sign * across[0], frame.inner[0]), right), 1),
                round(min(max(y + sign * across[1], frame.inner[1]), bottom), 1),
            )
            for x, y, sign in corners
        )
        yield Finding(
            code=FindingCode.LINES,
            severity=Severity.WARNING if line.length >= limits["lines.warning"] else Severity.NOTE,
            score=line.length,
            confidence=0.5 + 0.5 * max(0.0, min(1.0, (line.covered - 0.8) / 0.2)),
            box=_box_around(outline),
            outline=outline,
            message=f"A thin straight {'light' if line.light else 'dark'} line over {line.length:.0%} of the "
            "image's length: a scratch, a crease or a dead row of the receptor.",
        )


def text_findings(boxes: list[Box], factor: float, size: tuple[int, int]) -> Iterator[Finding]:
    """Text burned into the picture, in one finding.

    Parameters
    ----------
    boxes : of words, fine pixels of the whole file
    size : of the file, width and height
    """
    if not boxes:
        return
    corners = [(x * factor, y * factor, (x + w) * factor, (y + h) * factor) for x, y, w, h in boxes]
    left, top = int(min(each[0] for each in corners)), int(min(each[1] for each in corners))
    right = min(size[0], int(max(each[2] for each in corners)) + 1)
    bottom = min(size[1], int(max(each[3] for each in corners)) + 1)
    share = sum(w * h for _, _, w, h in boxes) * factor * factor / (size[0] * size[1])
    yield Finding(
        code=FindingCode.TEXT_STRIP,
        severity=Severity.NOTE,
        score=share,
        confidence=0.8,
        box=(left, top, right - left, bottom - top),
        message="Text is burned into the picture; see that it names nobody who should not be named.",
    )


def clipping_findings(
    measured: Measured, fields: Fields, frame: Frame, factor: float, limits: Thresholds
) -> Iterator[Finding]:
    """Tissue lost at an end of the scale, unless the whole image is already called light or dark.

    In black it is a note that proposes nothing: open space between the jaws, with a cheek or lip before it, fades
    into black within the picture as lost tissue does, and nothing in the file tells them apart.
    """
    for area in measured.clipped:
        if not measured.absolute or area.share < limits["saturated.warning"]:
            continue
        unit = fields.side * factor
        rows, columns = np.nonzero(area.mask)
        left, top = frame.inner[0] + int(columns.min() * unit), frame.inner[1] + int(rows.min() * unit)
        right = min(frame.inner[0] + frame.inner[2], frame.inner[0] + int((columns.max() + 1) * unit))
        bottom = min(frame.inner[1] + frame.inner[3], frame.inner[1] + int((rows.max() + 1) * unit))
        lost = f"Tissue is lost in white over {area.share:.0%} of the image; the file holds nothing there."
        open_or_lost = (
            f"Black without anything in it over {area.share:.0%} of the image, within the picture: open space, or "
            "tissue that is lost."
        )
        yield Finding(
            code=FindingCode.SATURATED,
            severity=Severity.WARNING if area.light else Severity.NOTE,
            score=area.share,
            confidence=min(0.95 if area.light else 0.5, 0.5 * area.share / limits["saturated.warning"]),
            box=(left, top, right - left, bottom - top),
            proposes=ShortfallCode.TOO_LIGHT.value if area.light else None,
            message=lost if area.light else open_or_lost,
        )


def _box_around(outline: tuple[tuple[float, float], ...]) -> Box:
    xs, ys = [int(x) for x, _ in outline], [int(y) for _, y in outline]
    return min(xs), min(ys), max(1, max(xs) - min(xs) + 1), max(1, max(ys) - min(ys) + 1)
