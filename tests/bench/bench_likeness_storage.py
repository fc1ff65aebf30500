"""How long the search for copies takes among a million stored images, against the bare query on the same index.

Run by hand: ``python -m tests.bench.bench_likeness_storage [IMAGES]``. Half of the signatures are spread evenly,
half lie in clusters, as images of one projection do.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from app.imaging.likeness import Sketch
from app.imaging.likeness_index import near_bands, ways_to_ask
from app.storage.database import Store
from app.work.copies import candidates, near_signatures, signed
from tests.people import founded

ROUNDS = 7
THEN = "2026-01-01 00:00:00"


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
    images = ((f"i{n}", practice_id, f"{n:064d}", 1, 9, 9, 8, "PNG", THEN) for n in range(len(values)))
    measures = (
        (
            f"m{n}", practice_id, f"i{n}", "landscape", 0, "{}", 1, signed(value),
            value & 65535, value >> 16 & 65535, value >> 32 & 65535, value >> 48, bytes(256), THEN,
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
        f"signature, band_0, band_1, band_2, band_3, coarse, measured_at) VALUES ({', '.join('?' * 14)})",
        measures,
    )
    cursor.execute("COMMIT")
    raw.close()


def bare(store: Store, practice_id: str, value: int) -> int:
    """The four index queries alone, by the driver; how many rows they answer."""
    raw = store.engine.raw_connection()
    rows = 0
    for number in range(4):
        values = sorted({band for way in ways_to_ask(value) for band in near_bands(way)[number]})
        marks = ",".join("?" * len(values))
        rows += len(
            raw.cursor()
            .execute(
                f"SELECT signature FROM image_measure WHERE practice_id = ? AND band_{number} IN ({marks})",
                (practice_id, *values),
            )
            .fetchall()
        )
    raw.close()
    return rows


def main(count: int) -> None:
    """Fill, ask, and print the ratio."""
    with tempfile.TemporaryDirectory() as folder:
        practice = founded(Path(folder) / "data")
        own = practice.dentist.practice_id
        values = hashes(count)
        fill(practice.store, own, values)
        random = np.random.default_rng(6)
        plane = random.random((192, 192), dtype=np.float32)
        times: dict[str, list[float]] = {"bare": [], "signatures": [], "candidates": []}
        found = []
        for value in [values[int(n)] for n in random.integers(0, count, ROUNDS)]:
            sketch = Sketch(
                sha256="", size=(9, 9), plane=plane, greys=plane, coarse=plane[:16, :16], hash=value, empty=False
            )
            begun = time.perf_counter()
            bare(practice.store, own, value)
            times["bare"].append(time.perf_counter() - begun)
            with practice.store.reading(own) as scope:
                begun = time.perf_counter()
                found.append(len(near_signatures(scope, value)))
                times["signatures"].append(time.perf_counter() - begun)
                begun = time.perf_counter()
                candidates(scope, sketch)
                times["candidates"].append(time.perf_counter() - begun)
        practice.store.close()
    base = statistics.median(times["bare"])
    print(f"{count:,} images; near the signature: {statistics.median(found):g} (median)")
    for name, of in times.items():
        middle = statistics.median(of)
        print(f"  {name:<11} {middle * 1000:7.0f} ms   {middle / base:5.2f} of the bare query")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
