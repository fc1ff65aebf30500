"""A process that loads images into a series one after the other, and says of each when it is recorded.

It is meant to be killed; left alone, it ends after `AT_MOST` images.

Run as ``python -m tests.storage.loading_process FOLDER STAFF_ID SERIES_ID FIRST_NUMBER``.
"""

from __future__ import annotations

import sys
from pathlib import Path

from app.storage.database import Store
from app.storage.people import Staff
from app.work.accounts import actor_of
from app.work.load_images import load_image
from tests.making import image_file

AT_MOST = 400


def load_one_after_another(folder: Path, staff_id: str, series_id: str, first: int) -> None:
    """Load image after image; each line is the id of an exposure that is recorded."""
    store = Store(folder)
    with store.reading() as scope:
        staff = scope.session.get(Staff, staff_id)
        assert staff is not None
        actor = actor_of(staff)
    for number in range(first, first + AT_MOST):
        loaded = load_image(store, actor, series_id, data=image_file(number), name=f"{number}.png")
        print(loaded.exposure.id, flush=True)


if __name__ == "__main__":
    load_one_after_another(Path(sys.argv[1]), sys.argv[2], sys.argv[3], int(sys.argv[4]))
