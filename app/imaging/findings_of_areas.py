"""What is said of places in the image: unexposed areas, frames, lines, text, clipped areas."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from app.imaging.collimation import Unexposed
from app.imaging.finding import Finding, FindingCode, Severity, graded
from app.imaging.framing import Frame
from app.imaging.measured import Measured
from app.imaging.planes import Fields
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
    for row in rows[:: max(1, len(rows) // 24)]:
        columns = np.nonzero(area.mask[row])[0]
        y = min(origin[1] + int((row + 0.5) * unit), far[1])
        lefts.append((origin[0] + int(columns[0] * unit), y))
        rights.append((min(origin[0] + int((columns[-1] + 1) * unit), far[0]), y))
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
