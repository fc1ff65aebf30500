"""A sealed backup opens with the key and with nothing else, and needs no program of ours for it."""

from __future__ import annotations

import json
from pathlib import Path

import pyrage
import pytest

from app.core.errors import InputError
from app.storage.backup_folder import Sealing
from app.storage.backup_sealing import MIN_PASSPHRASE, identities_in, new_key, open_folder_identity, passphrase_in
from app.storage.series import ImageRow
from app.work.backup_upkeep import check_backup
from app.work.backups import back_up
from app.work.restoring import restore
from tests.making import a_series, loaded
from tests.people import Practice, a_patient
from tests.work.backup_people import a_full_practice, every_file, every_row

PASSPHRASE = "four grey herons at noon"


@pytest.fixture
def key(tmp_path: Path) -> tuple[Sealing, Path]:
    """The public key, and the file of the private one."""
    public, private = new_key()
    file = tmp_path / "key.txt"
    file.write_text(f"# public key: {public}\n{private}\n")
    return Sealing(recipients=(public,)), file


def test_a_sealed_backup_is_restored_with_the_private_key(
    practice: Practice, tmp_path: Path, key: tuple[Sealing, Path]
) -> None:
    a_full_practice(practice)
    back_up(practice.store.folder, tmp_path / "backup", sealing=key[0])

    restore(tmp_path / "backup", tmp_path / "again", identities=identities_in(key[1]))

    assert every_row(tmp_path / "again") == every_row(practice.store.folder)
    assert every_file(tmp_path / "again") == every_file(practice.store.folder)


def test_a_sealed_backup_opens_by_the_open_format_alone(
    practice: Practice, tmp_path: Path, key: tuple[Sealing, Path]
) -> None:
    """Plain age and JSON: the manifest says which sealed file is which image."""
    a_full_practice(practice)
    name = back_up(practice.store.folder, tmp_path / "backup", sealing=key[0]).generation
    identity = pyrage.x25519.Identity.from_str(key[1].read_text().splitlines()[1])
    inside = tmp_path / "backup" / "generations" / name

    manifest = json.loads(pyrage.decrypt((inside / "manifest.json.age").read_bytes(), [identity]))
    database = pyrage.decrypt((inside / "fullcount.sqlite3.age").read_bytes(), [identity])

    assert database.startswith(b"SQLite format 3\0")
    for each in manifest["files"]:
        data = pyrage.decrypt((tmp_path / "backup" / each["stored"]).read_bytes(), [identity])
        assert data == (practice.store.folder / each["kind"] / each["sha256"][:2] / each["sha256"]).read_bytes()


def test_nothing_in_a_sealed_backup_names_a_patient_or_an_image(
    practice: Practice, tmp_path: Path, key: tuple[Sealing, Path]
) -> None:
    a_full_practice(practice)
    back_up(practice.store.folder, tmp_path / "backup", sealing=key[0])
    with practice.store.reading(practice.dentist.practice_id) as scope:
        names = [row.sha256 for row in scope.all(scope.select(ImageRow))]
    everything = b"".join(each.read_bytes() for each in (tmp_path / "backup").rglob("*") if each.is_file())
    listed = "".join(str(each) for each in (tmp_path / "backup").rglob("*"))

    assert b"SQLite format" not in everything
    assert b"Merriweather" not in everything
    assert [each for each in names if each in listed or each.encode() in everything] == []
    assert not list(practice.store.folder.glob(".backup-*"))


def test_a_second_sealed_run_copies_only_what_is_new(
    practice: Practice, tmp_path: Path, key: tuple[Sealing, Path]
) -> None:
    a_full_practice(practice)
    first = back_up(practice.store.folder, tmp_path / "backup", sealing=key[0])
    second = back_up(practice.store.folder, tmp_path / "backup", sealing=key[0], keep=1)

    assert (first.new_files, second.new_files, second.files) == (6, 1, 6)
    assert second.dropped.generations == [first.generation]
    assert check_backup(tmp_path / "backup", identities=identities_in(key[1])).problems == []


def test_a_restored_practice_goes_on_with_its_sealed_backup(
    practice: Practice, tmp_path: Path, key: tuple[Sealing, Path]
) -> None:
    a_full_practice(practice)
    back_up(practice.store.folder, tmp_path / "backup", sealing=key[0])
    restore(tmp_path / "backup", tmp_path / "again", identities=identities_in(key[1]))

    assert back_up(tmp_path / "again", tmp_path / "backup", sealing=key[0]).new_files == 1


def test_damage_is_found_without_the_key(practice: Practice, tmp_path: Path, key: tuple[Sealing, Path]) -> None:
    a_full_practice(practice)
    back_up(practice.store.folder, tmp_path / "backup", sealing=key[0])
    whole = check_backup(tmp_path / "backup")
    file = next(each for each in (tmp_path / "backup" / "sealed").rglob("*.age"))
    file.write_bytes(file.read_bytes()[:-1])

    found = check_backup(tmp_path / "backup")

    assert whole.problems == []
    assert [each.rsplit(" ", 1)[1] for each in found.problems] == ["damaged"]
    with pytest.raises(InputError, match="is damaged"):
        restore(tmp_path / "backup", tmp_path / "again", identities=identities_in(key[1]))
    assert not (tmp_path / "again").exists()


def test_another_key_opens_nothing(practice: Practice, tmp_path: Path, key: tuple[Sealing, Path]) -> None:
    back_up(practice.store.folder, tmp_path / "backup", sealing=key[0])
    other = pyrage.x25519.Identity.generate()

    with pytest.raises(InputError, match="does not open with this key"):
        restore(tmp_path / "backup", tmp_path / "again", identities=[other])
    with pytest.raises(InputError, match="is sealed"):
        restore(tmp_path / "backup", tmp_path / "again")


def test_a_passphrase_seals_and_opens_and_no_key_of_anybody_else_is_sealed_for(
    practice: Practice, tmp_path: Path
) -> None:
    """One test, because each use of a passphrase takes about a second on purpose."""
    a_full_practice(practice)
    sealing = Sealing(passphrase=PASSPHRASE)
    back_up(practice.store.folder, tmp_path / "backup", sealing=sealing)

    restore(
        tmp_path / "backup", tmp_path / "again", identities=[open_folder_identity(tmp_path / "backup", PASSPHRASE)]
    )

    assert every_row(tmp_path / "again") == every_row(practice.store.folder)
    with pytest.raises(InputError, match="does not open with this passphrase"):
        back_up(practice.store.folder, tmp_path / "backup", sealing=Sealing(passphrase="four herons at night"))
    file = tmp_path / "backup" / "fullcount-backup.json"
    file.write_text(json.dumps({**json.loads(file.read_text()), "recipients": [new_key()[0]]}))
    with pytest.raises(InputError, match="somebody changed it"):
        back_up(practice.store.folder, tmp_path / "backup", sealing=sealing)


@pytest.mark.parametrize("second", ["plain", "other key", "passphrase"])
def test_one_folder_is_sealed_one_way(
    practice: Practice, tmp_path: Path, key: tuple[Sealing, Path], second: str
) -> None:
    back_up(practice.store.folder, tmp_path / "backup", sealing=key[0])
    other = {"other key": Sealing(recipients=(new_key()[0],)), "passphrase": Sealing(passphrase=PASSPHRASE)}

    with pytest.raises(InputError, match="name another folder"):
        back_up(practice.store.folder, tmp_path / "backup", sealing=other.get(second, Sealing()))


def test_a_plain_backup_is_not_sealed_afterwards(
    practice: Practice, tmp_path: Path, key: tuple[Sealing, Path]
) -> None:
    back_up(practice.store.folder, tmp_path / "backup")

    with pytest.raises(InputError, match="is not sealed"):
        back_up(practice.store.folder, tmp_path / "backup", sealing=key[0])


def test_a_private_key_is_never_repeated_in_a_message(practice: Practice, tmp_path: Path) -> None:
    private = new_key()[1]

    with pytest.raises(InputError, match="this is a private key") as told:
        back_up(practice.store.folder, tmp_path / "backup", sealing=Sealing(recipients=(private,)))

    assert private not in str(told.value)


def test_a_lost_image_is_kept_from_an_earlier_sealed_backup(
    practice: Practice, tmp_path: Path, key: tuple[Sealing, Path]
) -> None:
    loaded(practice, a_series(practice))
    back_up(practice.store.folder, tmp_path / "backup", sealing=key[0])
    (name,) = practice.store.images.names()
    data = practice.store.images.read(name)
    practice.store.images.path(name).unlink()
    a_patient(practice, "after")

    report = back_up(practice.store.folder, tmp_path / "backup", sealing=key[0])
    restore(tmp_path / "backup", tmp_path / "again", identities=identities_in(key[1]))

    assert report.only_in_backup == [f"images/{name}"]
    assert (tmp_path / "again" / "images" / name[:2] / name).read_bytes() == data


def test_a_short_passphrase_is_refused(tmp_path: Path) -> None:
    (tmp_path / "short").write_text("x" * (MIN_PASSPHRASE - 1) + "\nmore\n")

    with pytest.raises(InputError, match=f"at least {MIN_PASSPHRASE}"):
        passphrase_in(tmp_path / "short")
