"""The trail: what an entry is, how each is bound to the one before, and how a chain is checked.

Every entry carries the SHA-256 of its own fields and of the hash before it. Whoever changes, drops or moves one
leaves a chain that no longer fits together. A chain that was rewritten as a whole fits again: against that helps
only a head (number and hash) that was noted elsewhere.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

BEGINNING = "0" * 64
"""What the first entry names as the hash before it."""

KINDS: dict[str, str] = {
    "start": "the program started",
    "view": "a patient's images or record were shown",
    "change": "rows were put in, changed or taken out",
    "export": "something left the program",
    "log_in": "a person logged in",
    "log_in_failed": "somebody tried to log in and was not let in",
    "log_out": "a log-in ended",
    "refusal": "something was asked for and refused",
    "upkeep": "the program or its administrator kept the data: a check, a backup, a clearing",
}
"""Kinds of entry, with what each says."""


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One entry.

    Parameters
    ----------
    number : from 1, without gap
    practice_id : empty where no practice is known (a log-in with an unknown name, the program's start)
    at : aware
    who : id of the person; empty where nobody is known
    acting_as : role in which they acted
    from_where : network address, "command line" or "program"
    details : JSON text, as it is kept
    previous : hash of the entry before
    """

    number: int
    practice_id: str
    at: datetime
    who: str
    acting_as: str
    from_where: str
    request_id: str
    kind: str
    what: str
    patient_id: str
    series_id: str
    details: str
    previous: str


def compact_json(value: Mapping[str, Any]) -> str:
    """JSON text of which there is one for equal values: sorted, without spaces, ASCII."""
    return json.dumps(value, ensure_ascii=True, sort_keys=True, separators=(",", ":"))


def hash_of(entry: Entry) -> str:
    """SHA-256 over every field of the entry, the hash before it included.

    Notes
    -----
    The bytes hashed are the entry as JSON: keys sorted, no spaces, ASCII, ``at`` in UTC with microseconds,
    ``details`` as the text that is kept. Anybody can repeat it with a few lines of any language.
    """
    fields = dict(vars(entry))
    fields["at"] = entry.at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
    return hashlib.sha256(compact_json(fields).encode("ascii")).hexdigest()


@dataclass(frozen=True, kw_only=True)
class Finding:
    """Something that is not as it should be.

    Parameters
    ----------
    code : changed, missing, out_of_order, does_not_follow, head_cut, head_differs, expected_head_differs
    number : the entry at which it shows; 0 where it is none
    """

    code: str
    number: int
    message: str


NEAR = 100
"""How far an entry is looked for from where it stands, to tell one moved from one changed."""


class ChainCheck:
    """Reads entries in the order of their numbers and tells what is wrong; keeps nothing but the last one."""

    def __init__(self) -> None:
        self.number = 0
        self.hash = BEGINNING
        self.at: datetime | None = None
        self.clock_back = 0

    def read(self, entry: Entry, kept_hash: str) -> list[Finding]:
        """What is wrong with the next entry; afterwards the chain is taken to go on from it.

        Parameters
        ----------
        kept_hash : the hash that stands beside the entry
        """
        found: list[Finding] = []
        number, expected = entry.number, self.number + 1
        if number > expected:
            gone = f"entry {expected} is" if number == expected + 1 else f"entries {expected} to {number - 1} are"
            found.append(Finding(code="missing", number=expected, message=f"{gone} missing"))
        elif number < expected:
            found.append(
                Finding(code="out_of_order", number=number, message=f"entry {number} comes after {self.number}")
            )
        if hash_of(entry) != kept_hash:
            found.append(self._changed_or_moved(entry, kept_hash))
        elif entry.previous != self.hash and number == expected:
            found.append(
                Finding(
                    code="does_not_follow",
                    number=number,
                    message=f"entry {number} does not follow from entry {self.number}: one of them was exchanged, "
                    "or the chain was written anew from here",
                )
            )
        if self.at is not None and entry.at < self.at:
            self.clock_back += 1
        self.number, self.hash, self.at = number, kept_hash, entry.at
        return found

    def _changed_or_moved(self, entry: Entry, kept_hash: str) -> Finding:
        number = entry.number
        for other in range(max(1, number - NEAR), number + NEAR + 1):
            if other != number and hash_of(Entry(**{**vars(entry), "number": other})) == kept_hash:
                message = f"entry {number} is out of order: it was written as number {other}"
                return Finding(code="out_of_order", number=number, message=message)
        return Finding(code="changed", number=number, message=f"entry {number} was changed after it was written")

    def end(self, head_number: int, head_hash: str) -> list[Finding]:
        """What is wrong with the end, against the head that is kept beside the entries."""
        if self.number < head_number:
            gone = (
                f"entry {head_number} is"
                if self.number == head_number - 1
                else f"entries {self.number + 1} to {head_number} are"
            )
            message = f"the end of the trail is cut off: {gone} missing"
            return [Finding(code="head_cut", number=self.number + 1, message=message)]
        if self.hash != head_hash:
            message = (
                f"the head kept beside the trail has another hash than entry {self.number}: one was exchanged"
            )
            return [Finding(code="head_differs", number=self.number, message=message)]
        return []
