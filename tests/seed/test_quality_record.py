"""The demo's quality record: readings as measured, notes and scheme in place."""

from __future__ import annotations

import hashlib
import json

from app.imaging.decode import read_radiograph
from app.work.quality_receptors import reading_of
from seed.pictures import FOLDER
from seed.quality import LETTERS, NAMES, READINGS

READY = json.loads(READINGS.read_text(encoding="utf-8"))


def test_every_ready_radiograph_has_its_reading() -> None:
    """Else run ``python -m seed.quality``."""
    names = {hashlib.sha256(file.read_bytes()).hexdigest()[:LETTERS] for file in FOLDER.glob("*.jpg")}

    assert names == set(READY)


def test_the_readings_are_what_measuring_gives() -> None:
    """A few of them; a change of the measuring asks for all of them anew."""
    for file in sorted(FOLDER.glob("*.jpg"))[::150]:
        data = file.read_bytes()
        fresh = reading_of(read_radiograph(data, name=file.name))

        assert READY[hashlib.sha256(data).hexdigest()[:LETTERS]] == [fresh[name] for name in NAMES]
