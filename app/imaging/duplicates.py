"""Copies among the images of one call, told as findings."""

from __future__ import annotations

from collections.abc import Sequence

from app.imaging.finding import Finding, FindingCode, Severity
from app.imaging.likeness import Likeness, Sketch, compare
from app.imaging.thresholds import Thresholds

_SAID = {
    "identical": "the same file",
    "re-encoded": "the same radiograph, saved again",
    "re-windowed": "the same radiograph in another window",
    "resized": "the same radiograph at another size",
    "cropped": "the same radiograph, cropped",
}


def duplicate_of(sketch: Sketch, earlier: Sequence[tuple[str, Sketch]], thresholds: Thresholds) -> Finding | None:
    """Of which earlier image this one is a copy: the same file if there is one, else the first that is surely
    the same radiograph, else the first that looks like it.

    Parameters
    ----------
    earlier : name and sketch of the images before it
    """
    same = [(name, other) for name, other in earlier if other.sha256 == sketch.sha256]
    found: tuple[str, Likeness] | None = None
    for name, other in same or earlier:
        likeness = compare(sketch, other, thresholds)
        if likeness is not None and (found is None or likeness.sure):
            found = name, likeness
            if likeness.sure:
                break
    if found is None:
        return None
    name, likeness = found
    said = _SAID.get(likeness.transform, f"the same radiograph, {likeness.transform.replace('-', ' ')}")
    return Finding(
        code=FindingCode.DUPLICATE,
        # A look-alike may be another exposure from the same stand: a person looks.
        severity=Severity.FAIL if likeness.sure else Severity.WARNING,
        score=likeness.score,
        confidence=min(1.0, max(0.5, likeness.score)),
        message=(
            f"This is {said}: {name}."
            if likeness.sure
            else f"This looks like {said}: {name}; or it is another exposure from the same stand. Look."
        ),
        of=name,
        transform=likeness.transform,
    )
