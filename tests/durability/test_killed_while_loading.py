"""`kill -9` at any moment of a batch upload: what was acknowledged is there, what was not is cleanly absent."""

from __future__ import annotations

import hashlib
import os
import random
import threading
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx
import pytest

from tests.durability.serving import (
    PATIENCE_S,
    RADIOGRAPHS,
    LogIn,
    Server,
    log_in,
    serving,
    upload,
    wait_until_gone,
)
from tests.durability.whole import parts_and_orphans, recorded
from tests.making import a_series
from tests.people import Practice, a_patient

ROUNDS = int(os.environ.get("FULLCOUNT_TEST_KILLS", "12")) // 2
"""Servers killed in each of two ways of loading; more than in the suite by this variable."""
BATCH = 4
BATCHES = 3
LONGEST_S = 1.5
"""After the first file is sent; a batch takes a good half second on an idle core."""


def taken(answer: httpx.Response) -> list[str]:
    """The exposures that were acknowledged."""
    return [each["exposure"] for each in answer.json()["results"] if each["outcome"] == "taken"]


class Loading(threading.Thread):
    """Somebody loads until the server is gone: in batches of several files, or one file after another on three
    lines at once, as the page's script sends them."""

    def __init__(self, server: Server, who: LogIn, series_id: str, files: Sequence[Path], *, at_once: int) -> None:
        super().__init__()
        self.server, self.who, self.series_id = server, who, series_id
        size = BATCH if at_once == 1 else 1
        self.requests = [files[first : first + size] for first in range(0, len(files), size)]
        self.at_once = at_once
        self.answered = 0
        self.acknowledged: list[str] = []
        self.sent = threading.Event()

    def run(self) -> None:
        with self.who.client(self.server) as client, ThreadPoolExecutor(self.at_once) as lines:
            client.get("/health")
            self.sent.set()
            list(lines.map(lambda files: self.hand(client, files), self.requests))

    def hand(self, client: httpx.Client, files: Sequence[Path]) -> None:
        try:
            said = taken(upload(client, self.who, self.series_id, files))
        except httpx.TransportError:
            # The server was killed; what it did not answer was not acknowledged.
            return
        self.acknowledged += said
        self.answered += 1


@pytest.mark.parametrize("at_once", [1, 3])
def test_what_was_acknowledged_survives_and_what_was_not_is_whole_or_absent(
    practice: Practice, at_once: int
) -> None:
    """In a loop, on one data folder: each round a series of its own, a server, an upload, and a kill."""
    moments = random.Random(20260327 + at_once)
    series = [a_series(practice, patient_id=a_patient(practice, f"K{turn}").id).id for turn in range(ROUNDS)]
    who = log_in(practice)
    done: dict[str, Loading] = {}
    for turn, series_id in enumerate(series):
        first = turn * BATCH * BATCHES
        files = [RADIOGRAPHS[(first + number) % len(RADIOGRAPHS)] for number in range(BATCH * BATCHES)]
        with serving(practice.store.folder, workers=1) as server:
            loading = Loading(server, who, series_id, files, at_once=at_once)
            loading.start()
            loading.sent.wait()
            time.sleep(moments.uniform(0.0, LONGEST_S))
            workers = server.kill()
            loading.join()
        done[series_id] = loading
        for each in workers:
            # A worker ends by itself when its server is gone.
            wait_until_gone(each)

        there = recorded(practice)
        for past, loaded in done.items():
            ids = {each for each, _ in there.get(past, [])}
            said = set(loaded.acknowledged)
            assert said <= ids
            # What was under way and not answered is recorded in full or not at all.
            beyond, unanswered = len(ids - said), len(loaded.requests) - loaded.answered
            assert beyond in ((0, BATCH) if at_once == 1 and unanswered else range(min(unanswered, at_once) + 1))
        parts_and_orphans(practice.store.folder, [sha256 for rows in there.values() for _, sha256 in rows])

    cut_off = sum(each.answered < len(each.requests) for each in done.values())
    assert cut_off >= ROUNDS // 2, "the kills came too late to prove anything"


def test_after_a_kill_the_same_files_are_simply_loaded_again(practice: Practice) -> None:
    series_id = a_series(practice).id
    who = log_in(practice)
    files = RADIOGRAPHS[:BATCH]
    with serving(practice.store.folder) as server:
        loading = Loading(server, who, series_id, files, at_once=1)
        loading.start()
        loading.sent.wait()
        deadline = time.monotonic() + PATIENCE_S
        # Killed as soon as the first file lies in the store: files are kept, and no row is written.
        while not list((practice.store.folder / "images").glob("??/*")) and time.monotonic() < deadline:
            time.sleep(0.001)
        server.kill()
        loading.join()
    left = [each.name for each in (practice.store.folder / "images").glob("??/*")]
    there = recorded(practice).get(series_id, [])

    with serving(practice.store.folder) as server, who.client(server) as client:
        answer = upload(client, who, series_id, files)
        outcomes = [each["outcome"] for each in answer.json()["results"]]

    assert left
    assert outcomes == (["already"] if there else ["taken"]) * BATCH
    sums = [sha256 for _, sha256 in recorded(practice)[series_id]]
    assert sums == [hashlib.sha256(each.read_bytes()).hexdigest() for each in files]
