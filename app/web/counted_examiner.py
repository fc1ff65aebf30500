"""An examiner that counts what it is handed, for the metrics and for /ready."""

from __future__ import annotations

import threading
import time
from collections.abc import Sequence
from pathlib import Path

from app.imaging.errors import ImageRefused
from app.imaging.examine import Examination, Examined, Examiner
from app.imaging.likeness import Likeness, Sketch
from app.web.metrics import Metrics


class CountedExaminer:
    """Passes every file on to another examiner."""

    def __init__(self, examiner: Examiner, metrics: Metrics) -> None:
        self.inner = examiner
        self.at_once = examiner.at_once
        self._metrics = metrics
        self._lock = threading.Lock()
        self._under_way = 0
        self._answered_at = float("-inf")

    def examine(self, data: bytes, wanted: Examination) -> Examined:
        """Decode, measure and sketch one file; counted as examined or refused."""
        self._change(1)
        try:
            found = self.inner.examine(data, wanted)
        except ImageRefused:
            self._metrics.refused.inc()
            raise
        finally:
            self._change(-1)
        self._metrics.examined.inc()
        self._answered_at = time.monotonic()
        return found

    def likenesses(self, sketch: Sketch, others: Sequence[Path | Sketch]) -> list[Likeness | None]:
        """How an image is a copy of each of the others."""
        return self.inner.likenesses(sketch, others)

    def answered_within(self, seconds: float) -> bool:
        """Whether a file was examined in the last so many seconds."""
        return time.monotonic() - self._answered_at <= seconds

    def _change(self, by: int) -> None:
        with self._lock:
            self._under_way += by
            self._metrics.in_hand.set(min(self._under_way, self.at_once))
            self._metrics.waiting.set(max(0, self._under_way - self.at_once))
