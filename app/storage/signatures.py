"""The signatures of a practice's images, kept in memory so that a search looks through all of them at once.

Eight bytes an image: a million take eight megabytes. What was measured since they were read is read at each
search, from a little before, because a transaction that began earlier may end later. What is older is counted, and
read anew when the count has changed: an image removed, or a clock set back.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import func
from sqlmodel import col, select

from app.storage.findings import ImageMeasure
from app.storage.practice_scope import PracticeScope

EARLIER = timedelta(minutes=10)
"""How long a transaction may take to show what it measured."""
MANY = 5_000
"""New signatures from which the whole is read anew."""


@dataclass(frozen=True)
class _Kept:
    signatures: NDArray[np.int64]
    since: datetime
    older: int


_kept: WeakKeyDictionary[Any, dict[str, _Kept]] = WeakKeyDictionary()
_lock = threading.Lock()


def signatures_of(scope: PracticeScope) -> NDArray[np.int64]:
    """Every signature of the practice, as the database keeps it; some may stand there twice."""
    table = ImageMeasure
    own = table.practice_id == scope.practice_id
    engine = scope.session.get_bind()
    with _lock:
        kept = _kept.setdefault(engine, {}).get(scope.practice_id)
    if kept is not None and _older(scope, kept.since) == kept.older:
        fresh = _read(scope, select(table.signature).where(own, col(table.measured_at) >= kept.since))
        if len(fresh) < MANY:
            return np.concatenate([kept.signatures, fresh])
    newest = scope.session.execute(select(func.max(table.measured_at)).where(own)).scalar()
    if newest is None:
        return np.zeros(0, dtype=np.int64)
    since = newest - EARLIER
    older = _older(scope, since)
    whole = np.unique(_read(scope, select(table.signature).where(own)))
    with _lock:
        _kept.setdefault(engine, {})[scope.practice_id] = _Kept(whole, since, older)
    return whole


def _older(scope: PracticeScope, since: datetime) -> int:
    table = ImageMeasure
    count = select(func.count()).select_from(table).where(table.practice_id == scope.practice_id)
    return int(scope.session.execute(count.where(col(table.measured_at) < since)).scalar_one())


def _read(scope: PracticeScope, query: Any) -> NDArray[np.int64]:
    return np.array(scope.session.execute(query).scalars().all(), dtype=np.int64)
