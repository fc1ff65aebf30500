"""Looking out for copies while files are loaded: stored ones, those of the same call, and those come meanwhile."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from sqlmodel import col

from app.imaging.errors import ImageRefused
from app.imaging.examine import Examined, Examiner
from app.imaging.likeness import Likeness, Sketch
from app.storage.database import Store
from app.storage.findings import ImageMeasure
from app.storage.practice_scope import PracticeScope
from app.storage.series import ImageRow
from app.work.copies import TURNED, Candidate, Copy, candidates, may_be_alike, unsigned


class Lookout:
    """Finds out of which image a file is a copy, while the files of one series are loaded.

    Parameters
    ----------
    own : ids of the images of the series, as it was before
    """

    def __init__(self, store: Store, practice_id: str, examiner: Examiner, own: Iterable[str]) -> None:
        self.store = store
        self.practice_id = practice_id
        self.examiner = examiner
        self.own = frozenset(own)

    def copy_of(self, sketch: Sketch) -> Copy | None:
        """The stored image that this is a copy of; one of the same series first."""
        with self.store.reading(self.practice_id) as scope:
            near = candidates(scope, sketch, self.own)
        return self._first(sketch, near)

    def _first(self, sketch: Sketch, near: Sequence[Candidate]) -> Copy | None:
        # The same file is a matter of its name, and was asked before.
        others = [each for each in near if each.sha256 != sketch.sha256]
        paths = [self.store.images.path(each.sha256) for each in others]
        for each, likeness in zip(others, self._likenesses(sketch, paths), strict=True):
            if likeness is not None:
                return Copy(image_id=each.image_id, transform=likeness.transform)
        return None

    def _likenesses(self, sketch: Sketch, others: Sequence[object]) -> list[Likeness | None]:
        if not others:
            return []
        try:
            return self.examiner.likenesses(sketch, others)  # type: ignore[arg-type]  # paths or sketches
        except ImageRefused:
            # A comparison that cannot be made must not keep an exposure off the record.
            return [None] * len(others)

    def among(self, sketch: Sketch, earlier: Sequence[tuple[str, Examined]]) -> str | None:
        """What to say where an earlier file of the same call is the same radiograph."""
        near = [
            (name, each.sketch)
            for name, each in earlier
            if each.sha256 != sketch.sha256 and not sketch.empty and may_be_alike(sketch.hash, each.sketch.hash)
        ]
        likenesses = self._likenesses(sketch, [each for _, each in near])
        for (name, _), likeness in zip(near, likenesses, strict=True):
            if likeness is not None:
                said = TURNED.get(likeness.transform, likeness.transform.replace("-", " "))
                return (
                    f"this is the radiograph of {name}, which was loaded with it, {said}. "
                    "Leave it out; load it only if it really is another exposure"
                )
        return None

    def came_since(self, scope: PracticeScope, now: Iterable[str]) -> Callable[[Sketch], Copy | None]:
        """Asks the same of the images that the series got since it was looked at: two people may load at once."""
        fresh = sorted(set(now) - self.own)
        rows = scope.all(scope.select(ImageMeasure).where(col(ImageMeasure.image_id).in_(fresh))) if fresh else []
        images = scope.all(scope.select(ImageRow).where(col(ImageRow.id).in_(fresh))) if fresh else []
        names = {each.id: each.sha256 for each in images}

        def asked(sketch: Sketch) -> Copy | None:
            near = [
                Candidate(image_id=each.image_id, sha256=names[each.image_id])
                for each in rows
                if each.comparable and not sketch.empty and may_be_alike(sketch.hash, unsigned(each.signature))
            ]
            return self._first(sketch, near)

        return asked
