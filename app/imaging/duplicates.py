"""Copies among the images of one call, told as findings."""

from __future__ import annotations

from collections.abc import Sequence

from app.imaging.finding import Finding, FindingCode, Severity
from app.imaging.likeness import Sketch, compare
from app.imaging.thresholds import Thresholds

_SAID = {
    "identical": "the same file",
    "re-encoded": "the same radiograph, saved again",
    "re-windowed": "the same radiograph in another window",
    "resized": "the same radiograph at another size",
    "cropped": "the same radiograph, cropped",
}


def duplicate_of(sketch: Sketch, earlier: Sequence[tuple[str, Sketch]], thresholds: Thresholds) -> Finding | None:
    """Of which earlier image this one is a copy: the same file if there is one, else the first that is alike.

    Parameters
    ----------
    earlier : name and sketch of the images before it
    """
    same = [(name, other) for name, other in earlier if other.sha256 == sketch.sha256]
    for name, other in same or earlier:
        likeness = compare(sketch, other, thresholds)
        if likeness is not None:
            said = _SAID.get(likeness.transform, f"the same radiograph, {likeness.transform.replace('-', ' ')}")
            return Finding(
                code=FindingCode.DUPLICATE,
                severity=Severity.FAIL,
                score=likeness.score,
                confidence=min(1.0, max(0.5, likeness.score)),
                message=f"This is {said}: {name}.",
                of=name,
                transform=likeness.transform,
            )
    return None
