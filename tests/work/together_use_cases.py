"""Following what colleagues do, as each role tries it, and as another practice does."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from app.work import news
from app.work.actor import CHAIRSIDE, TEAM

ROOMS = (news,)

USE_CASES: dict[str, tuple[frozenset[Any], Callable[..., object]]] = {
    "followed": (CHAIRSIDE, lambda s, a, on: news.followed(s, a, "series", on.series)),
    "followed, a patient": (TEAM, lambda s, a, on: news.followed(s, a, "patient", on.patient)),
    "followed, the recall list": (TEAM, lambda s, a, on: news.followed(s, a, "recall", news.EVERYTHING)),
    "news_of": (CHAIRSIDE, lambda s, a, on: news.news_of(s, a, "series", on.series)),
}
"""What each role may, and the doing."""
