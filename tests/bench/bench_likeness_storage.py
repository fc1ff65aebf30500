"""How long the search for copies takes among a million stored images, against one bare look through them.

Run by hand: ``python -m tests.bench.bench_likeness_storage [IMAGES]``. Half of the signatures are spread evenly,
half lie in clusters, as images of one projection do.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from app.imaging.decode import read_radiograph
from app.imaging.likeness import sketch_of
from app.imaging.likeness_index import asked_of
from app.storage.database import Store
from app.work.copies import candidates, near_signatures, signed
from tests.people import founded
from tests.work.radiographs import simulated

ROUNDS = 7
LAST = datetime(2026, 1, 1, tzinfo=UTC)


def then(number: int) -> str:
    """When an image was measured: one after another, a minute apart."""
    return (LAST - timedelta(minutes=number)).strftime("%Y-%m-%d %H:%M:%S.%f")


def hashes(count: int) -> list[int]:
    """Signatures, half of them in clusters of two thousand."""
    random = np.random.default_rng(5)
    even = random.integers(0, 1 << 64, count, dtype=np.uint64)
    centres = random.integers(0, 1 << 64, max(1, count // 4000), dtype=np.uint64)
    made = [int(each) for each in even]
    for number in range(0, count, 2):
        centre = int(centres[(number // 2) % len(centres)])
        for bit in random.integers(0, 64, 14):
            centre ^= 1 << int(bit)
        made[number] = centre
    return made


def fill(store: Store, practice_id: str, values: list[int]) -> None:
    """Rows as the program writes them, by the driver, because a million is many."""
    raw = store.engine.raw_connection()
    images = ((f"i{n}", practice_id, f"{n:064d}", 1, 9, 9, 8, "PNG", then(n)) for n in range(len(values)))
    measures = (
        (
            f"m{n}", practice_id, f"i{n}", "landscape", 0, "{}", 1, signed(value), bytes(255) + b"x", then(n),
        )
        for n, value in enumerate(values)
    )  # fmt: skip
    cursor = raw.cursor()
    cursor.execute("BEGIN")
    cursor.executemany(
        "INSERT INTO image (id, practice_id, sha256, byte_count, width, height, bits, format, stored_at) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        images,
    )
    cursor.executemany(
        "INSERT INTO image_measure (id, practice_id, image_id, orientation, inverted, measurements, comparable, "
        "signature, coarse, measured_at) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        measures,
    )
    cursor.execute("COMMIT")
    raw.close()


def bare(stored: NDArray[np.uint64], value: int) -> int:
    """One look through all signatures in memory for one hash in one way; how many are near."""
    return int((np.bitwise_count(stored ^ np.uint64(value)) <= 11).sum())


def main(count: int) -> None:
    """Fill, ask, and print the ratio."""
    with tempfile.TemporaryDirectory() as folder:
        practice = founded(Path(folder) / "data")
        own = practice.dentist.practice_id
        values = hashes(count)
        fill(practice.store, own, values)
        random = np.random.default_rng(6)
        sketch = sketch_of(read_radiograph(simulated(), name="a"))
        stored = np.array(values, np.uint64)
        times: dict[str, list[float]] = {"bare": [], "asked": [], "signatures": [], "candidates": []}
        found = []
        with practice.store.reading(own) as scope:
            begun = time.perf_counter()
            near_signatures(scope, asked_of(sketch))
            print(f"the first search, which reads all signatures: {time.perf_counter() - begun:.2f} s")
        for value in [values[int(n)] for n in random.integers(0, count, ROUNDS)]:
            sketch = replace(sketch, hash=value)
            begun = time.perf_counter()
            bare(stored, value)
            times["bare"].append(time.perf_counter() - begun)
            begun = time.perf_counter()
            asked = asked_of(sketch)
            times["asked"].append(time.perf_counter() - begun)
            with practice.store.reading(own) as scope:
                begun = time.perf_counter()
                found.append(len(near_signatures(scope, asked)))
                times["signatures"].append(time.perf_counter() - begun)
                begun = time.perf_counter()
                candidates(scope, sketch)
                times["candidates"].append(time.perf_counter() - begun)
        practice.store.close()
    base = min(times["bare"])
    ways = len(asked.hashes)
    print(f"{count:,} images; near the signature: {statistics.median(found):g} (median); asked in {ways} ways")
    for name, of in times.items():
        best = min(of)
        print(f"  {name:<11} {best * 1000:7.1f} ms   {best / base:7.2f} of one bare look, best of {len(of)}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
