"""What was erased is no gap: neither a backup nor the check of kept files misses its images."""

from __future__ import annotations

from pathlib import Path

from app.work.backups import back_up
from app.work.restoring import restore
from app.work.verify import verify_folder
from tests.people import Practice
from tests.work.test_erasing import choose, confirmed, erased, full_record


def test_a_backup_after_erasing_holds_what_stays_and_misses_nothing(practice: Practice, tmp_path: Path) -> None:
    choose(practice)
    patient, _ = full_record(practice)
    erased(practice, confirmed(practice, patient.id))

    report = back_up(practice.store.folder, tmp_path / "backup")
    restore(tmp_path / "backup", tmp_path / "again")

    assert not report.has_findings
    assert list((tmp_path / "again" / "images").glob("??/*")) == []
    assert verify_folder(tmp_path / "again").is_clean
