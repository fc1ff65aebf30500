"""How long 18 images take from bytes to a verdict, against just decoding, hashing and writing the same files.

Run by hand: ``.venv/bin/python -m tests.bench.bench_load``. Aim: under 1.5 times.
"""

from __future__ import annotations

import hashlib
import io
import os
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from PIL import Image, ImageFilter

from app.core.templates import Slot
from app.work.audit_series import audit_of, frozen_template
from app.work.incoming import IncomingFile
from app.work.load_images import load_images
from tests.making import a_series
from tests.people import Practice, a_patient, founded

ROUNDS = 5
COUNT = 18


def radiograph_sized(number: int, kind: str) -> bytes:
    """A smooth grey image of 1300 x 1000 with a little noise, different for each number."""
    random = np.random.default_rng(number)
    coarse = Image.fromarray(random.integers(30, 220, (20, 26), dtype=np.uint8)).resize((1300, 1000))
    levels = np.asarray(coarse.filter(ImageFilter.GaussianBlur(6))).astype(np.int16)
    noisy = np.clip(levels + random.normal(0, 3, levels.shape), 0, 255).astype(np.uint8)
    out = io.BytesIO()
    Image.fromarray(noisy).save(out, kind, **({"quality": 92} if kind == "JPEG" else {}))
    return out.getvalue()


def baseline(files: list[bytes], folder: Path) -> None:
    """Decode, hash, and write each file so that it would survive a power cut."""
    for data in files:
        with Image.open(io.BytesIO(data)) as image:
            np.asarray(image)
        name = hashlib.sha256(data).hexdigest()
        with open(folder / f"{name}.part", "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(folder / f"{name}.part", folder / name)


def loading(practice: Practice, series_id: str, files: list[bytes]) -> None:
    """Load every file into its slot and compute the verdict."""
    incoming = [
        IncomingFile(data=data, name=f"{number}.img", slot=SLOTS[number].id) for number, data in enumerate(files)
    ]
    load_images(practice.store, practice.assistant, series_id, incoming)
    with practice.store.reading(practice.assistant.practice_id) as scope:
        assert audit_of(scope, series_id).audit.verdict == "unreviewed"


def seconds(job: Callable[[], None]) -> float:
    """Time of one run."""
    start = time.perf_counter()
    job()
    return time.perf_counter() - start


def main() -> None:
    """Print the ratio for JPEG and PNG."""
    global SLOTS
    for kind in ("JPEG", "PNG"):
        ratios, ours, theirs = [], [], []
        with tempfile.TemporaryDirectory() as folder:
            practice = founded(Path(folder) / "data")
            for round_number in range(ROUNDS):
                files = [radiograph_sized(round_number * 100 + n, kind) for n in range(COUNT)]
                series = a_series(practice, patient_id=a_patient(practice, f"B{round_number}").id)
                SLOTS = frozen_template(series).required_slots
                bare = Path(folder) / f"bare{round_number}"
                bare.mkdir()
                theirs.append(seconds(lambda files=files, bare=bare: baseline(files, bare)))  # type: ignore[misc]
                ours.append(seconds(lambda p=practice, s=series, f=files: loading(p, s.id, f)))  # type: ignore[misc]
                ratios.append(ours[-1] / theirs[-1])
            practice.store.close()
        mine, bare_ms = statistics.median(ours) * 1000, statistics.median(theirs) * 1000
        print(
            f"{kind}: {COUNT} images to a verdict {mine:6.0f} ms, decode + hash + write {bare_ms:6.0f} ms, "
            f"ratio {statistics.median(ratios):4.2f}"
        )


SLOTS: tuple[Slot, ...] = ()

if __name__ == "__main__":
    main()
