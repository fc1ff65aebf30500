"""One file examined: decoded in full, measured, and sketched for the search for copies; no pixels come back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Protocol

from app.imaging.decode import ImageLimits, read_radiograph
from app.imaging.findings import Inspection, inspect_radiograph
from app.imaging.likeness import Likeness, Sketch, compare, sketch_of
from app.imaging.receptor_reading import ReceptorMeasurements, receptor_measurements
from app.imaging.thresholds import Thresholds


@dataclass(frozen=True, kw_only=True)
class Examined:
    """What is known of a file once it was decoded.

    Parameters
    ----------
    width, height : pixels
    bits : of a grey level as decoded, 8 or 16
    notes : what was done to the file on the way in
    """

    sha256: str
    width: int
    height: int
    bits: int
    format: str
    notes: tuple[str, ...]
    inspection: Inspection
    receptor: ReceptorMeasurements
    sketch: Sketch


@dataclass(frozen=True, kw_only=True)
class Examination:
    """What to examine, and how.

    Parameters
    ----------
    name : the file's name as the person knows it
    slot_orientation : of the receptor in the slot the image is meant for, where one is known
    thresholds : those of the receptor; None for the usual ones
    """

    name: str
    limits: ImageLimits
    slot_orientation: str | None = None
    thresholds: dict[str, float] | None = None


class Examiner(Protocol):
    """Whoever examines files: this process, or others beside it."""

    at_once: int
    """Files worth handing in at the same time."""

    def examine(self, data: bytes, wanted: Examination) -> Examined:
        """Decode, measure and sketch one file, or raise `ImageRefused`."""

    def likenesses(self, sketch: Sketch, others: Sequence[Path | Sketch]) -> list[Likeness | None]:
        """How an image is a copy of each of the others; files that cannot be read are like nothing."""


class InThisProcess:
    """Examines in the process that asks: for the command line, the demo and tests."""

    at_once = 1

    def examine(self, data: bytes, wanted: Examination) -> Examined:
        """Decode, measure and sketch one file."""
        return examined(data, wanted)

    def likenesses(self, sketch: Sketch, others: Sequence[Path | Sketch]) -> list[Likeness | None]:
        """Compare one after another."""
        return likenesses_of(sketch, others)


def examined(data: bytes, wanted: Examination) -> Examined:
    """Decode, measure and sketch one file.

    Raises
    ------
    ImageRefused
        The file is no image that can be taken.
    """
    radiograph = read_radiograph(data, name=wanted.name, limits=wanted.limits)
    thresholds: Thresholds | None = wanted.thresholds
    inspection = inspect_radiograph(radiograph, slot_orientation=wanted.slot_orientation, thresholds=thresholds)
    return Examined(
        sha256=radiograph.sha256,
        width=radiograph.width,
        height=radiograph.height,
        bits=radiograph.bits,
        format=radiograph.format,
        notes=radiograph.notes,
        inspection=inspection,
        receptor=receptor_measurements(radiograph, inspection),
        sketch=sketch_of(radiograph),
    )


def likenesses_of(
    sketch: Sketch, others: Sequence[Path | Sketch], sketched: Callable[[Path], Sketch | None] | None = None
) -> list[Likeness | None]:
    """How an image is a copy of each of the others; the first that surely is ends the search."""
    read = sketched or _sketched
    found: list[Likeness | None] = []
    for each in others:
        other = read(each) if isinstance(each, Path) else each
        found.append(compare(sketch, other) if other is not None else None)
        if found[-1] is not None and found[-1].sure:
            break
    return found + [None] * (len(others) - len(found))


@lru_cache(maxsize=32)
def _sketched(path: Path) -> Sketch | None:
    # A file of the store was decoded when it came; one that is gone or damaged since is like nothing.
    try:
        data = path.read_bytes()
        return sketch_of(read_radiograph(data, name=path.name, limits=_ANY_KEPT))
    except Exception:
        return None


_ANY_KEPT = ImageLimits(max_bytes=1 << 31, max_side=1 << 16, max_pixels=200_000_000)
"""What the store keeps has passed the limits of its own day."""
