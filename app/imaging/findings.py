"""One image -> its measurements and what they say, against thresholds that are data.

The order matters. What is no radiograph at all, or holds nothing, is said alone: its greys and edges mean nothing.
Frames are taken off before anything is measured, unexposed areas before light and sharpness are.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import ceil

import numpy as np

from app.imaging.clipping import clipped_tissue
from app.imaging.collimation import find_unexposed
from app.imaging.density import Evenness, density_of, evenness_of
from app.imaging.doubling import self_likeness
from app.imaging.finding import Finding, FindingCode, Severity, proposal, sure
from app.imaging.findings_of_areas import (
    border_findings,
    clipping_findings,
    cone_cut_findings,
    line_findings,
    text_findings,
)
from app.imaging.findings_of_exposure import doubling_findings, exposure_findings, fineness_findings
from app.imaging.framing import Frame, find_frame
from app.imaging.kind import ICON, drawing, other_kind
from app.imaging.lines import straight_lines
from app.imaging.measured import Measured
from app.imaging.noise import noise_of
from app.imaging.orientation import contradicts, orientation_of
from app.imaging.planes import Box, Planes, fields_of, planes_of
from app.imaging.polarity import inverted
from app.imaging.radiograph import Grey, Radiograph
from app.imaging.regions import grown
from app.imaging.sharpness import sharpness_of
from app.imaging.text import words
from app.imaging.thresholds import Thresholds, usual_thresholds

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
    inverted : whether the file looks inverted; all else was then measured after undoing that
    """

    orientation: str
    measurements: dict[str, float]
    findings: tuple[Finding, ...]
    inner: Box
    inverted: bool = False


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
    return _inspected(radiograph, slot_orientation, usual_thresholds() if thresholds is None else thresholds, None)


def _inspected(
    radiograph: Radiograph, slot_orientation: str | None, limits: Thresholds, undone: float | None
) -> Inspection:
    """As above; ``undone`` is how clearly the file was inverted where its greys were exchanged for that."""
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
    even = evenness_of(fine, fields)
    blank = _is_blank(even, limits)
    if blank and other and other.what == ICON:
        # An even picture holds nothing, whatever its size.
        other = None
    unexposed = [] if other or blank else find_unexposed(fields, fine_noise, limits["cone_cut.note"])
    exchanged = 0.0
    if undone is None and not (other or blank) and max(native.shape) >= SMALLEST_MEASURED:
        exchanged, is_inverted = inverted(
            fields, unexposed, fine_noise, limits["cone_cut.note"], limits["inverted.warning"]
        )
        if is_inverted:
            grey: Grey = radiograph.grey.dtype.type(radiograph.top) - radiograph.grey
            return _inspected(replace(radiograph, grey=grey), slot_orientation, limits, exchanged)
    if not (other or blank or unexposed):
        other = drawing(native, even.pixel_range)
    covered, rims = empty.copy(), empty.copy()
    for area in unexposed:
        covered |= grown(area.mask)
        rims |= grown(grown(grown(area.mask)))
    density = density_of(fine, fields, covered, fine_noise, even)
    sharpness = sharpness_of(fine, rims, fields.side, fine_noise, max(fine.shape))
    finely = not (other or blank) and max(native.shape) >= SMALLEST_MEASURED
    measured = Measured(
        density=density,
        frame=frame,
        noise=noise,
        sharpness=sharpness,
        unexposed=unexposed,
        absolute=planes.absolute,
        exchanged=exchanged if undone is None else undone,
        lines=straight_lines(fine, rims, fields.side, fine_noise, limits["lines.note"]) if finely else [],
        clipped=clipped_tissue(fields, covered, fine_noise) if planes.absolute else [],
        doubled=self_likeness(fine) if finely and not unexposed else 0.0,
    )
    if undone is not None:
        findings.append(
            Finding(
                code=FindingCode.INVERTED,
                severity=Severity.WARNING,
                score=undone,
                confidence=undone,
                message="Dark and light look exchanged: open space is light, teeth are dark. Show it "
                "inverted; the rest was measured that way.",
            )
        )
    if other:
        findings.append(
            Finding(
                code=FindingCode.NOT_A_RADIOGRAPH,
                severity=Severity.FAIL,
                score=other.score,
                confidence=other.score,
                message=f"This looks like {other.what}, not like a radiograph.",
            )
        )
    elif blank:
        findings.append(
            Finding(
                code=FindingCode.BLANK,
                severity=Severity.FAIL,
                score=density.structure,
                confidence=sure(density.structure, limits["blank.structure"], 0.0),
                message="The image is even throughout: nothing of the mouth was recorded.",
            )
        )
    else:
        findings += exposure_findings(measured, limits)
        if max(native.shape) >= SMALLEST_MEASURED:
            findings += fineness_findings(measured, limits)
        findings += doubling_findings(measured, limits)
        findings += cone_cut_findings(measured, fields, frame, planes.factor, limits)
        findings += line_findings(measured, frame, planes.factor, limits)
        findings += text_findings(words(planes.fine), planes.factor, (radiograph.width, radiograph.height))
        if not any(each.code in (FindingCode.TOO_LIGHT, FindingCode.TOO_DARK) for each in findings):
            findings += clipping_findings(measured, fields, frame, planes.factor, limits)
    if not other:
        findings += border_findings(frame, radiograph, limits)
    weight = {Severity.FAIL: 0, Severity.WARNING: 1, Severity.NOTE: 2}
    return Inspection(
        orientation=orientation,
        measurements=_measurements(measured),
        findings=tuple(
            replace(each, proposes=each.proposes or proposal(each.code), confidence=round(each.confidence, 3))
            for each in sorted(findings, key=lambda each: weight[each.severity])
        ),
        inner=frame.inner,
        inverted=undone is not None,
    )


def _inner(planes: Planes, frame: Frame) -> tuple[np.ndarray, np.ndarray]:
    """The fine and the native plane without the frame."""
    x, y, width, height = frame.inner
    f = planes.factor
    fine = planes.fine[ceil(y / f) : int((y + height) / f), ceil(x / f) : int((x + width) / f)]
    return fine, planes.native[y : y + height, x : x + width]


def _is_blank(even: Evenness, limits: Thresholds) -> bool:
    if even.structure < limits["blank.structure"]:
        return True
    return even.structure < limits["blank.noise_ratio"] * even.pixel_range


def _orientation(found: str, wanted: str | None, radiograph: Radiograph) -> Iterator[Finding]:
    if wanted is not None and contradicts(found, wanted):
        yield Finding(
            code=FindingCode.ORIENTATION_MISMATCH,
            severity=Severity.WARNING,
            score=radiograph.width / radiograph.height,
            confidence=0.9,
            message=f"The image lies {found}, the slot's receptor {wanted}: another slot, or a turned image.",
        )


def _measurements(measured: Measured) -> dict[str, float]:
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
        "noise_ratio": measured.noise / max(density.contrast, 0.02),
        "edge_width": sharp.overall,
        "edge_width_across": sharp.across,
        "edge_width_down": sharp.down,
        "edge_width_falling": sharp.falling,
        "edge_width_rising": sharp.rising,
        "unexposed_share": sum((area.share for area in measured.unexposed), 0.0),
        "frame_share": measured.frame.share,
        "exchanged": measured.exchanged,
        "longest_line": max((line.length for line in measured.lines), default=0.0),
        "clipped_tissue_share": max((area.share for area in measured.clipped), default=0.0),
        "self_likeness": measured.doubled,
        "levels_absolute": float(measured.absolute),
    }
    return {name: round(value, 5) for name, value in values.items() if value is not None}
