"""Looking out for copies while files are loaded: stored ones, those of the same call, and those come meanwhile."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from sqlmodel import col

from app.imaging.errors import ImageRefused
from app.imaging.examine import Examined, Examiner
from app.imaging.likeness import Likeness, Sketch
from app.imaging.likeness_index import COARSE_ENOUGH, asked_of, coarse_bytes
from app.storage.database import Store
from app.storage.findings import ImageMeasure
from app.storage.practice_scope import PracticeScope
from app.storage.series import ImageRow
from app.work.copies import TURNED, Candidate, Copy, candidates

SECONDS = 3.0
"""Time for comparing one file with its look-alikes, the likeliest first: the patient is in the chair."""
AT_ONCE = 4
"""Images compared in one call of the examiner; a copy mostly stands among the first."""


@dataclass(frozen=True, kw_only=True)
class Looked:
    """What a search among the stored images found.

    Parameters
    ----------
    copy : the image that the file is a copy of, or looks like; None for none
    left : look-alikes that there was no time to compare
    """

    copy: Copy | None = None
    left: int = 0

    @property
    def note(self) -> str | None:
        """What to tell of look-alikes that were left out."""
        if not self.left:
            return None
        return (
            f"Not all look-alikes were compared: {self.left:,} were left when time ran out. "
            "A copy among them was not looked for."
        )


class Lookout:
    """Finds out of which image a file is a copy, while the files of one series are loaded.

    Parameters
    ----------
    own : ids of the images of the series, as it was before
    seconds : for comparing one file with its look-alikes
    """

    def __init__(
        self,
        store: Store,
        practice_id: str,
        examiner: Examiner,
        own: Iterable[str],
        seconds: float | None = None,
    ) -> None:
        self.store = store
        self.practice_id = practice_id
        self.examiner = examiner
        self.own = frozenset(own)
        self.seconds = SECONDS if seconds is None else seconds

    def look_for(self, sketch: Sketch) -> Looked:
        """The stored image that this is surely a copy of, else the likeliest that it looks like."""
        with self.store.reading(self.practice_id) as scope:
            near, left = candidates(scope, sketch, self.own)
        looked = self._first(sketch, near)
        return (
            looked
            if looked.copy is not None and looked.copy.sure
            else Looked(copy=looked.copy, left=looked.left + left)
        )

    def _first(self, sketch: Sketch, near: Sequence[Candidate]) -> Looked:
        # The same file is a matter of its name, and was asked before.
        others = [each for each in near if each.sha256 != sketch.sha256]
        ends = time.monotonic() + self.seconds
        alike: Copy | None = None
        for start in range(0, len(others), AT_ONCE):
            if start and time.monotonic() > ends:
                return Looked(copy=alike, left=len(others) - start)
            some = others[start : start + AT_ONCE]
            paths = [self.store.images.path(each.sha256) for each in some]
            for each, likeness in zip(some, self._likenesses(sketch, paths), strict=True):
                if likeness is None:
                    continue
                copy = Copy(image_id=each.image_id, transform=likeness.transform, sure=likeness.sure)
                if copy.sure:
                    return Looked(copy=copy)
                alike = alike or copy
        return Looked(copy=alike)

    def _likenesses(self, sketch: Sketch, others: Sequence[object]) -> list[Likeness | None]:
        if not others:
            return []
        try:
            return self.examiner.likenesses(sketch, others)  # type: ignore[arg-type]  # paths or sketches
        except ImageRefused:
            # A comparison that cannot be made must not keep an exposure off the record.
            return [None] * len(others)

    def among(self, sketch: Sketch, earlier: Sequence[tuple[str, Examined]]) -> str | None:
        """What to say where an earlier file of the same call is the same radiograph, or looks like it."""
        alike = self._alike(sketch, [coarse_bytes(each.sketch) for _, each in earlier])
        near = [
            (name, each.sketch)
            for (name, each), like in zip(earlier, alike, strict=True)
            if like and each.sha256 != sketch.sha256 and not each.sketch.empty
        ]
        likenesses = self._likenesses(sketch, [each for _, each in near])
        found = [(name, each) for (name, _), each in zip(near, likenesses, strict=True) if each is not None]
        for name, likeness in sorted(found, key=lambda each: not each[1].sure):
            said = TURNED.get(likeness.transform, likeness.transform.replace("-", " "))
            if likeness.sure:
                return (
                    f"this is the radiograph of {name}, which was loaded with it, {said}. "
                    "Leave it out; load it only if it really is another exposure"
                )
            return (
                f"this looks like the radiograph of {name}, which was loaded with it, {said}; or it is another "
                "exposure from the same stand. Compare the two; load it if it is another exposure"
            )
        return None

    @staticmethod
    def _alike(sketch: Sketch, coarse: Sequence[bytes]) -> list[bool]:
        """Which coarse pictures are like enough for a close comparison."""
        if sketch.empty or not coarse:
            return [False] * len(coarse)
        return [bool(each) for each in asked_of(sketch).agreement(coarse) >= COARSE_ENOUGH]

    def came_since(self, scope: PracticeScope, now: Iterable[str]) -> Callable[[Sketch], Copy | None]:
        """Asks the same of the images that the series got since it was looked at: two people may load at once."""
        fresh = sorted(set(now) - self.own)
        rows = scope.all(scope.select(ImageMeasure).where(col(ImageMeasure.image_id).in_(fresh))) if fresh else []
        images = scope.all(scope.select(ImageRow).where(col(ImageRow.id).in_(fresh))) if fresh else []
        names = {each.id: each.sha256 for each in images}

        def asked(sketch: Sketch) -> Copy | None:
            alike = self._alike(sketch, [each.coarse for each in rows])
            near = [
                Candidate(image_id=each.image_id, sha256=names[each.image_id])
                for each, like in zip(rows, alike, strict=True)
                if like and each.comparable
            ]
            return self._first(sketch, near).copy

        return asked
