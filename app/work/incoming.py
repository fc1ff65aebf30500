"""What comes with an image file, what comes of it, and the two ways in which it may be there already."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime

from app.core.errors import FullcountError, InputError
from app.storage.series import ExposureRow


class AlreadyHere(FullcountError):
    """The same file is an image of this series already."""


class SameRadiographHere(AlreadyHere):
    """Another file of a radiograph of this series; if it is really another exposure, a person says so."""


class SameFileElsewhere(FullcountError):
    """The same file stands in another series; a person decides whether it really belongs here too."""


@dataclass(frozen=True, kw_only=True)
class TubeSettings:
    """How the tube was set, where it is known."""

    kv: float | None = None
    ma: float | None = None
    seconds: float | None = None

    def __post_init__(self) -> None:
        for name, value in (("tube_kv", self.kv), ("tube_ma", self.ma), ("exposure_seconds", self.seconds)):
            if value is not None and not (math.isfinite(value) and value > 0):
                raise InputError(
                    name, f"{value} cannot be set on a tube. Write a number above 0, or leave it open"
                )


@dataclass(frozen=True, kw_only=True)
class LoadedImage:
    """What was recorded, and what to look at."""

    exposure: ExposureRow
    width: int
    height: int
    notes: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class IncomingFile:
    """One file as it arrives.

    Parameters
    ----------
    slot : where it belongs; None leaves it unassigned
    sure : a person has confirmed that the same file or radiograph in another place belongs here too
    taken_at, receptor_id : of this file, where they differ from those of the batch
    """

    data: bytes
    name: str
    slot: str | None = None
    sure: bool = False
    taken_at: datetime | None = None
    receptor_id: str | None = None


def shown_name(name: str) -> str:
    """The file's own name, without folders and control characters, at most 200 letters."""
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    return "".join(letter for letter in last if letter.isprintable())[:200] or "image"
