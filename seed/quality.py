"""The demo's quality record: the scheme chosen, and notes on the time axis."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta

from app.storage.database import Store
from app.work.actor import Actor
from app.work.quality_record import annotate, choose_scheme
from app.work.quality_refresh import bring_up_to_date
from seed.acting import acting

NOTES = (
    (610, "oriel", "Ring holders for molar views bought for all three rooms"),
    (365, "basil", "Practice evening: placing the receptor for upper molars"),
    (150, "merrin", "Bitewings practised together: the beam through the contacts"),
)
"""Days ago, who wrote it, and what; invented like everything of the demo."""


def keep_record(store: Store, actors: Mapping[str, Actor], today: date) -> None:
    """Put the quality record into the demo practice, once its series are there."""
    dentist = actors["oriel"]
    with acting(store, dentist) as scope:
        choose_scheme(
            scope,
            dentist,
            scheme_id="two-grades-2020",
            from_day=(today - timedelta(days=730)).isoformat(),
            reason="All our receptors are digital",
        )
        for days, login, text in NOTES:
            annotate(scope, actors[login], day=(today - timedelta(days=days)).isoformat(), text=text)
    bring_up_to_date(store, dentist.practice_id)
