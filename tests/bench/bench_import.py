"""How long importing 20,000 patients takes, as a ratio to reading and inserting the same rows bare.

Run by hand: ``.venv/bin/python -m tests.bench.bench_import [rows]``. Aim: a few seconds for each step.
"""

from __future__ import annotations

import csv
import io
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from random import Random

from app.work.imports_undo import undo_import
from tests.people import TODAY, founded
from tests.work.import_files import HEADER, imported, planned, staged


def a_file(count: int) -> str:
    """That many patients of all ages, with last dates for most of them."""
    random = Random(6)
    lines = [HEADER]
    for at in range(count):
        born = TODAY - timedelta(days=random.randrange(365, 90 * 365))
        last = TODAY - timedelta(days=random.randrange(30, 360))
        seen = last.isoformat() if random.random() < 0.7 else ""
        lines.append(f"P{at},Given{at} Family{at % 977},{born},01632 96{at % 10000:04d},p{at}@example.org,{seen},")
    return "\n".join(lines)


def seconds(what: str, job: Callable[[], object]) -> float:
    """Run once and say how long."""
    start = time.perf_counter()
    job()
    took = time.perf_counter() - start
    print(f"{what:42} {took:6.2f} s")
    return took


def bare(text: str, folder: Path) -> None:
    """Read with the csv module, insert with the sqlite3 module: what no import can do without."""
    rows = list(csv.reader(io.StringIO(text)))[1:]
    with sqlite3.connect(folder / "bare.sqlite3") as connection:
        connection.execute("create table p (a primary key, b, c, d, e, f, g)")
        connection.executemany("insert into p values (?,?,?,?,?,?,?)", rows)


def main() -> None:
    """Print a line for each step."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000
    text = a_file(count)
    with tempfile.TemporaryDirectory() as folder:
        practice = founded(Path(folder) / "data")
        base = seconds("bare reading and inserting", lambda: bare(text, Path(folder)))
        seconds("read and check", lambda: planned(practice, staged(practice, text)))
        made = []
        whole = seconds("read, check, confirm, recall worked out", lambda: made.append(imported(practice, text)))
        seconds("the same file again, checked", lambda: planned(practice, staged(practice, text)))

        def undo() -> None:
            with practice.store.writing(practice.dentist.practice_id) as scope:
                undo_import(scope, practice.dentist, made[0].id, today=TODAY)

        seconds("undone", undo)
        print(f"ratio of the whole to the bare: {whole / base:.0f}")
        practice.store.close()


if __name__ == "__main__":
    main()
