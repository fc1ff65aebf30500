"""One image -> its measurements and what they say, against thresholds that are data.

The order matters. What is no radiograph at all, or holds nothing, is said alone: its greys and edges mean nothing.
Frames are taken off before anything is measured, unexposed areas before light and sharpness are.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil

import numpy as np

from app.imaging.collimation import Unexposed, find_unexposed
from app.imaging.density import Density, density_of
from app.imaging.finding import Finding, FindingCode, Severity
from app.imaging.framing import Frame, find_frame
from app.imaging.kind import ICON, drawing, other_kind
from app.imaging.noise import noise_of
from app.imaging.orientation import contradicts, orientation_of
from app.imaging.planes import Box, Fields, Planes, fields_of, planes_of
from app.imaging.radiograph import Radiograph
from app.imaging.regions import grown
from app.imaging.sharpness import Sharpness, sharpness_of
from app.imaging.thresholds import Thresholds, usual_thresholds

MOVED = 1.6
"""Width of edges in one direction over the other from which the blur counts as movement along it."""
SMALLEST_MEASURED = 200
"""Long side, pixels, below which sharpness and noise are not judged: nothing fine is left in such a preview."""


@dataclass(frozen=True, kw_only=True)
class Inspection:
    """What an image says of itself.

    Parameters
    ----------
    measurements : by name; shares are 0 to 1 of the grey range or of the area. A measurement that cannot be taken
        of this image is absent.
    findings : gravest first
    inner : the radiograph without any frame, pixels
    """

    orientation: str
    measurements: dict[str, float]
    findings: tuple[Finding, ...]
    inner: Box


@dataclass(frozen=True, kw_only=True)
class _Measured:
    density: Density
    frame: Frame
    noise: float
    sharpness: Sharpness
    unexposed: list[Unexposed]
    absolute: bool


def inspect_radiograph(
    radiograph: Radiograph, *, slot_orientation: str | None = None, thresholds: Thresholds | None = None
) -> Inspection:
    """Measure one image and say what stands out.

    Parameters
    ----------
    slot_orientation : ``portrait`` or ``landscape`` of the receptor in the slot the image is meant for; None where
        nothing is known
    thresholds : those of the receptor; None for the usual ones
    """
    limits = usual_thresholds() if thresholds is None else thresholds
    orientation = orientation_of(radiograph.width, radiograph.height)
    planes = planes_of(radiograph)
    frame = find_frame(planes)
    fine, native = _inner(planes, frame)
    fields = fields_of(fine)
    findings = list(_orientation(orientation, slot_orientation, radiograph))
    other = other_kind(radiograph, fields_of(planes.fine) if frame.sides else fields, limits["icon.side"])
    noise = noise_of(native) if max(native.shape) >= SMALLEST_MEASURED else 0.0
    fine_noise = noise / planes.factor
    empty = np.zeros(fields.mean.shape, bool)
    density = density_of(fine, fields, empty, fine_noise)
    blank = _is_blank(density, limits)
    if blank and other and other.what == ICON:
        # An even picture holds nothing, whatever its size.
        other = None
    unexposed = [] if other or blank else find_unexposed(fields, fine_noise, limits["cone_cut.note"])
    if not (other or blank or unexposed):
        other = drawing(native, density.pixel_range)
    covered, rims = empty.copy(), empty.copy()
    for area in unexposed:
        covered |= grown(area.mask)
        rims |= grown(grown(grown(area.mask)))
    if unexposed:
        density = density_of(fine, fields, covered, fine_noise)
    sharpness = sharpness_of(fine, rims, fields.side, fine_noise, max(fine.shape))
    measured = _Measured(
        density=density,
        frame=frame,
        noise=noise,
        sharpness=sharpness,
        unexposed=unexposed,
        absolute=planes.absolute,
    )
    if other:
        findings.append(
            Finding(
                code=FindingCode.NOT_A_RADIOGRAPH,
                severity=Severity.FAIL,
                score=other.score,
                message=f"This looks like {other.what}, not like a radiograph.",
            )
        )
    elif blank:
        findings.append(
            Finding(
                code=FindingCode.BLANK,
                severity=Severity.FAIL,
                score=density.structure,
                message="The image is even throughout: nothing of the mouth was recorded.",
            )
        )
    else:
        findings += _exposure(measured, limits)
        if max(native.shape) >= SMALLEST_MEASURED:
            findings += _fineness(measured, limits)
        findings += _cone_cuts(measured, fields, frame, planes.factor, limits)
    if not other:
        findings += _border(frame, radiograph, limits)
    weight = {Severity.FAIL: 0, Severity.WARNING: 1, Severity.NOTE: 2}
    return Inspection(
        orientation=orientation,
        measurements=_measurements(measured),
        findings=tuple(sorted(findings, key=lambda each: weight[each.severity])),
        inner=frame.inner,
    )


def _inner(planes: Planes, frame: Frame) -> tuple[np.ndarray, np.ndarray]:
    """The fine and the native plane without the frame."""
    x, y, width, height = frame.inner
    f = planes.factor
    fine = planes.fine[ceil(y / f) : int((y + height) / f), ceil(x / f) : int((x + width) / f)]
    return fine, planes.native[y : y + height, x : x + width]


def _is_blank(density: Density, limits: Thresholds) -> bool:
    if density.structure < limits["blank.structure"]:
        return True
    return density.structure < limits["blank.noise_ratio"] * density.pixel_range


def _orientation(found: str, wanted: str | None, radiograph: Radiograph) -> Iterator[Finding]:
    if wanted is not None and contradicts(found, wanted):
        yield Finding(
            code=FindingCode.ORIENTATION_MISMATCH,
            severity=Severity.WARNING,
            score=radiograph.width / radiograph.height,
            message=f"The image lies {found}, the slot's receptor {wanted}: another slot, or a turned image.",
        )


def _graded(value: float, warning: float, fail: float) -> Severity | None:
    """The severity of a value; the fault grows from ``warning`` towards ``fail``, whichever is larger."""
    sign = 1.0 if fail >= warning else -1.0
    if sign * value >= sign * fail:
        return Severity.FAIL
    return Severity.WARNING if sign * value >= sign * warning else None


def _exposure(measured: _Measured, limits: Thresholds) -> Iterator[Finding]:
    density = measured.density
    burned = limits["burned.share"]
    dark = light = contrast = None
    if measured.absolute:
        dark = _graded(density.darkness, limits["too_dark.warning"], limits["too_dark.fail"])
        light = _graded(density.lightness, limits["too_light.warning"], limits["too_light.fail"])
        contrast = _graded(density.contrast, limits["low_contrast.warning"], limits["low_contrast.fail"])
    if density.dark >= burned:
        dark = Severity.FAIL
    if density.light >= burned:
        light = Severity.FAIL
    if dark:
        yield Finding(
            code=FindingCode.TOO_DARK,
            severity=dark,
            score=density.darkness,
            message=f"Too dark: even the lighter tissue reaches only {density.p90:.0%} of the grey range.",
        )
    if light:
        yield Finding(
            code=FindingCode.TOO_LIGHT,
            severity=light,
            score=density.lightness,
            message=f"Too light: even the darker tissue stands at {density.p10:.0%} of the grey range.",
        )
    if contrast:
        yield Finding(
            code=FindingCode.LOW_CONTRAST,
            severity=contrast,
            score=density.contrast,
            message=f"Low contrast: tissue spans only {density.contrast:.0%} of the grey range.",
        )


def _fineness(measured: _Measured, limits: Thresholds) -> Iterator[Finding]:
    sharp = measured.sharpness
    widest, moved = _blur(sharp)
    severity = None if widest is None else _graded(widest, limits["blurred.warning"], limits["blurred.fail"])
    if widest is not None and severity:
        why = f" along one direction ({moved}): movement" if moved else ""
        yield Finding(
            code=FindingCode.BLURRED,
            severity=severity,
            score=widest,
            message=f"Blurred{why}: the sharpest edges are {widest:.1f} thousandths of the image's length wide.",
        )
    span = max(measured.density.contrast, 0.02)
    noisy = _graded(measured.noise / span, limits["noisy.warning"], limits["noisy.fail"])
    if noisy:
        yield Finding(
            code=FindingCode.NOISY,
            severity=noisy,
            score=measured.noise / span,
            message=f"Noisy: single pixels scatter by {measured.noise / span:.0%} of the range of tissue.",
        )


def _blur(sharp: Sharpness) -> tuple[float | None, str]:
    """The width that counts, and the direction of movement where there is one."""
    if sharp.overall is None:
        return None, ""
    if sharp.across is not None and sharp.down is not None:
        if sharp.across > MOVED * sharp.down and sharp.across > sharp.overall:
            return sharp.across, "left to right"
        if sharp.down > MOVED * sharp.across and sharp.down > sharp.overall:
            return sharp.down, "up and down"
    return sharp.overall, ""


def _cone_cuts(
    measured: _Measured, fields: Fields, frame: Frame, factor: float, limits: Thresholds
) -> Iterator[Finding]:
    total = sum(area.share for area in measured.unexposed)
    severity = _graded(total, limits["cone_cut.warning"], limits["cone_cut.fail"]) or Severity.NOTE
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
            box=(left, top, far_x - left, far_y - top),
            outline=_outline(area, unit, (x0, y0), (right, bottom)),
            message=f"Cone cut: the beam missed {area.share:.0%} of the image, behind "
            f"{ {'arc': 'an arc', 'line': 'a straight edge'}.get(area.outline.shape, 'a corner') }.",
        )


def _outline(
    area: Unexposed, unit: float, origin: tuple[int, int], far: tuple[int, int]
) -> tuple[tuple[int, int], ...]:
    """Corners of the area: down along its left ends of rows, back up along the right ones."""
    lefts: list[tuple[int, int]] = []
    rights: list[tuple[int, int]] = []
    rows = np.nonzero(area.mask.any(axis=1))[0]
    for row in rows[:: max(1, len(rows) // 24)]:
        columns = np.nonzero(area.mask[row])[0]
        y = min(origin[1] + int((row + 0.5) * unit), far[1])
        lefts.append((origin[0] + int(columns[0] * unit), y))
        rights.append((min(origin[0] + int((columns[-1] + 1) * unit), far[0]), y))
    return (*lefts, *reversed(rights))


def _border(frame: Frame, radiograph: Radiograph, limits: Thresholds) -> Iterator[Finding]:
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
        box=frame.inner,
        message=f"{what} takes {frame.share:.0%} of the file ({', '.join(frame.sides)}); the box is the rest.",
    )


def _measurements(measured: _Measured) -> dict[str, float]:
    density, sharp = measured.density, measured.sharpness
    values: dict[str, float | None] = {
        "tissue_p5": density.p5,
        "tissue_p50": density.p50,
        "tissue_p95": density.p95,
        "contrast": density.contrast,
        "darkness": density.darkness,
        "lightness": density.lightness,
        "flat_dark_share": density.dark,
        "flat_light_share": density.light,
        "structure": density.structure,
        "noise": measured.noise,
        "edge_width": sharp.overall,
        "edge_width_across": sharp.across,
        "edge_width_down": sharp.down,
        "unexposed_share": sum((area.share for area in measured.unexposed), 0.0),
        "frame_share": measured.frame.share,
        "levels_absolute": float(measured.absolute),
    }
    return {name: round(value, 5) for name, value in values.items() if value is not None}
