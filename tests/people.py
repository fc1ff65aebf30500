"""The cast: invented people with fixed roles, and the practice they work in."""

from __future__ import annotations

import atexit
import shutil
import tempfile
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path

import pytest
from pwdlib import PasswordHash
from pwdlib.hashers.argon2 import Argon2Hasher

from app.storage.database import Store
from app.storage.people import Patient
from app.work import accounts, passwords
from app.work.actor import Actor
from app.work.patients import register_patient

TODAY = date(2026, 3, 27)
PASSWORD = "three quiet herons"


@dataclass(frozen=True)
class Practice:
    """A practice with one person of each role, and a stranger from another practice in the same database."""

    store: Store
    dentist: Actor
    assistant: Actor
    front_desk: Actor
    administrator: Actor
    stranger: Actor


def hash_lightly(monkeypatch: pytest.MonkeyPatch) -> None:
    """Argon2id with the least effort: what is tested is the program, not the library's slowness."""
    light = PasswordHash((Argon2Hasher(time_cost=1, memory_cost=8, parallelism=1),))
    monkeypatch.setattr(passwords, "_hashing", light)
    monkeypatch.setattr(passwords, "NOBODY", light.hash("nobody"))


def founded(folder: Path) -> Practice:
    """A migrated store with the whole cast in it: a copy of one that was founded once."""
    template, people = _founded_once()
    shutil.copytree(template, folder)
    return Practice(Store(folder), *people)


@cache
def _founded_once() -> tuple[Path, tuple[Actor, Actor, Actor, Actor, Actor]]:
    kept = tempfile.TemporaryDirectory(prefix="fullcount-cast-")
    atexit.register(kept.cleanup)
    folder = Path(kept.name) / "data"
    with pytest.MonkeyPatch.context() as patch:
        hash_lightly(patch)
        practice = _founded(folder)
    practice.store.close()
    cast = (practice.dentist, practice.assistant, practice.front_desk, practice.administrator)
    return folder, (*cast, practice.stranger)


def _founded(folder: Path) -> Practice:
    store = Store(folder)
    store.migrate()
    administrator = accounts.first_start(
        store, practice_name="Heron Lane", name="Ruan Teale", login="ruan", password=PASSWORD, dentist=False
    )
    with store.writing(administrator.practice_id) as scope:
        dentist = accounts.actor_of(
            accounts.add_staff(
                scope,
                administrator,
                name="Dr Wilna Achterberg",
                login="wilna",
                role="dentist",
                password=PASSWORD,
            )
        )
        assistant = accounts.actor_of(
            accounts.add_staff(
                scope, administrator, name="Tomke Rill", login="tomke", role="assistant", password=PASSWORD
            )
        )
        front_desk = accounts.actor_of(
            accounts.add_staff(
                scope, administrator, name="Pell Orcutt", login="pell", role="front_desk", password=PASSWORD
            )
        )
    return Practice(store, dentist, assistant, front_desk, administrator, _stranger(store))


def _stranger(store: Store) -> Actor:
    """A dentist of another practice, who administers too so that no role keeps them out.

    Only tests put two practices into one folder.
    """
    from app.storage.practice import Practice as PracticeRow
    from app.storage.practice_scope import PracticeScope

    with store.writing() as scope:
        other = PracticeRow(name="Otter Yard")
        scope.session.add(other)
        scope.session.flush()
        inside = PracticeScope(scope.session, other.id)
        kept = passwords.hashed(PASSWORD)
        return accounts.actor_of(
            accounts.new_staff(
                inside, name="Dr Isko Vell", login="isko", role="dentist", administers=True, password_hash=kept
            )
        )


def a_patient(practice: Practice, chart_number: str = "H100", born: str = "1984-05-06") -> Patient:
    """An adult with 32 teeth."""
    with practice.store.writing(practice.dentist.practice_id) as scope:
        return register_patient(
            scope,
            practice.assistant,
            chart_number=chart_number,
            name="Ada Merriweather-Stone",
            birth_date=born,
            today=TODAY,
        )
