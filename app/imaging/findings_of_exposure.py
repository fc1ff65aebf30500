"""What is said of the greys and of fine detail: dark, light, flat, blurred, noisy."""

from __future__ import annotations

from collections.abc import Iterator

from app.imaging.density import Density
from app.imaging.finding import Finding, FindingCode, Severity, graded, sure
from app.imaging.measured import Measured
from app.imaging.sharpness import Sharpness
from app.imaging.thresholds import Thresholds

MOVED = 1.5
"""Width of edges in one direction over that in the sharpest from which the blur counts as movement along it.
Simulated good images have up to 1.35 where edges are wide at all."""
WIDEST_OF_FOUR = 1.3
"""Factor on the thresholds for movement: the widest of four directions, each told by few edges, scatters up."""
_WHERE = ("left to right", "upper left to lower right", "up and down", "lower left to upper right")
BONE = (0.3, 0.5)
"""Level of the lightest bone (95th percentile of tissue) of a toothless jaw exposed as it should be."""
NO_TEETH = 1.9
"""Lightest tissue over its median up to which nothing in it is dentine or enamel."""
RIDGE_CONTRAST = 0.34
"""Largest range of tissue of a jaw without teeth."""


def exposure_findings(measured: Measured, limits: Thresholds) -> Iterator[Finding]:
    """Too dark, too light, too flat."""
    density = measured.density
    burned = limits["burned.share"]
    dark = light = contrast = None
    if measured.absolute:
        dark = graded(density.darkness, limits["too_dark.warning"], limits["too_dark.fail"])
        light = graded(density.lightness, limits["too_light.warning"], limits["too_light.fail"])
        contrast = graded(density.contrast, limits["low_contrast.warning"], limits["low_contrast.fail"])
        if _toothless(density):
            dark = dark if density.darkness < limits["toothless.dark"] else None
            contrast = contrast if density.contrast < limits["toothless.contrast"] else None
    if density.dark >= burned:
        dark = Severity.FAIL
    if density.light >= burned:
        light = Severity.FAIL
    if dark:
        yield Finding(
            code=FindingCode.TOO_DARK,
            severity=dark,
            score=density.darkness,
            confidence=max(
                sure(density.darkness, limits["too_dark.warning"], limits["too_dark.fail"]),
                _flat(density.dark, burned),
            ),
            message=f"Too dark: even the lighter tissue reaches only {density.p90:.0%} of the grey range.",
        )
    if light:
        yield Finding(
            code=FindingCode.TOO_LIGHT,
            severity=light,
            score=density.lightness,
            confidence=max(
                sure(density.lightness, limits["too_light.warning"], limits["too_light.fail"]),
                _flat(density.light, burned),
            ),
            message=f"Too light: even the darker tissue stands at {density.p10:.0%} of the grey range.",
        )
    if contrast:
        yield Finding(
            code=FindingCode.LOW_CONTRAST,
            severity=contrast,
            score=density.contrast,
            confidence=sure(density.contrast, limits["low_contrast.warning"], limits["low_contrast.fail"]),
            message=f"Low contrast: tissue spans only {density.contrast:.0%} of the grey range.",
        )


def _toothless(density: Density) -> bool:
    """Whether an image looks like a well-exposed jaw without teeth: dark and flat by nature.

    Without enamel and dentine nothing is far lighter than the usual tissue. Overexposure lowers the middle more
    than the light end, so that their ratio grows; and of a jaw exposed as it should be, the thick bone stays well
    above the dark.
    """
    low, high = BONE
    return (
        low <= density.p95 <= high and density.p95 <= NO_TEETH * density.p50 and density.contrast <= RIDGE_CONTRAST
    )


def _flat(share: float, burned: float) -> float:
    """How sure a share of the area that is flat at one end of the scale makes."""
    return 0.95 if share >= burned else 0.0


def fineness_findings(measured: Measured, limits: Thresholds) -> Iterator[Finding]:
    """Blurred, noisy."""
    sharp = measured.sharpness
    widest, moved = _blur(sharp)
    further = WIDEST_OF_FOUR if moved else 1.0
    warning, fail = limits["blurred.warning"] * further, limits["blurred.fail"] * further
    severity = None if widest is None else graded(widest, warning, fail)
    if widest is not None and severity:
        why = f" along one direction ({moved}): movement" if moved else ""
        yield Finding(
            code=FindingCode.BLURRED,
            severity=severity,
            score=widest,
            confidence=sure(widest, warning, fail),
            message=f"Blurred{why}: the sharpest edges are {widest:.1f} thousandths of the image's length wide.",
        )
    span = max(measured.density.contrast, 0.02)
    noisy = graded(measured.noise / span, limits["noisy.warning"], limits["noisy.fail"])
    if noisy:
        yield Finding(
            code=FindingCode.NOISY,
            severity=noisy,
            score=measured.noise / span,
            confidence=sure(measured.noise / span, limits["noisy.warning"], limits["noisy.fail"]),
            message=f"Noisy: single pixels scatter by {measured.noise / span:.0%} of the range of tissue.",
        )


def _blur(sharp: Sharpness) -> tuple[float | None, str]:
    """The width that counts, and the direction of movement where there is one."""
    if sharp.overall is None:
        return None, ""
    told = [(width, where) for width, where in zip(sharp.directions, _WHERE, strict=True) if width is not None]
    if len(told) > 1:
        (widest, where), (sharpest, _) = max(told), min(told)
        if widest > MOVED * sharpest and widest > sharp.overall:
            return widest, where
    return sharp.overall, ""


def doubling_findings(measured: Measured, limits: Thresholds) -> Iterator[Finding]:
    """The same region twice on one receptor."""
    if measured.doubled >= limits["double_exposed.warning"]:
        yield Finding(
            code=FindingCode.DOUBLE_EXPOSED,
            severity=Severity.WARNING,
            score=measured.doubled,
            confidence=min(0.95, 0.5 * measured.doubled / limits["double_exposed.warning"]),
            message="The picture is like itself moved aside: perhaps two exposures of the region on one receptor.",
        )
