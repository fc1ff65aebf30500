"""Drafting and signing, which open their own transactions: who may, and whose report it is."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from app.storage.practice_scope import NotFound
from app.storage.quality import SignedReport
from app.work.actor import Actor, NotAllowed
from app.work.quality_period import Period
from app.work.report_contents import Written, shown_names
from app.work.report_signing import draft_report, sign_quality_report, signed_file
from tests.people import Practice
from tests.web.chairside_people import faulty_series

NOW = datetime.now(UTC)
PERIOD = Period.of_months(f"{NOW:%Y-%m}", f"{NOW:%Y-%m}")
WRITTEN = Written(conclusions=("Steady.",), actions=(), names="full")


def draft(practice: Practice, actor: Actor) -> str:
    """Digest of what would be signed; no charts, which are the door's."""
    return draft_report(practice.store, actor, PERIOD, WRITTEN, lambda figures, names: {}).digest


def sign(practice: Practice, actor: Actor, previewed: str) -> SignedReport:
    return sign_quality_report(
        practice.store, actor, PERIOD, WRITTEN, lambda figures, names: {}, previewed=previewed
    )


@pytest.mark.parametrize("who", ["assistant", "front_desk"])
def test_only_a_dentist_drafts_signs_and_opens(practice: Practice, who: str) -> None:
    faulty_series(practice)
    digest = draft(practice, practice.dentist)
    report = sign(practice, practice.dentist, digest)
    other: Actor = getattr(practice, who)

    with pytest.raises(NotAllowed):
        draft(practice, other)
    with pytest.raises(NotAllowed):
        sign(practice, other, digest)
    with pytest.raises(NotAllowed):
        signed_file(practice.store, other, report.id)
    assert len(practice.store.reports.names()) == 1


def test_the_same_figures_have_the_same_digest_and_other_names_another(practice: Practice) -> None:
    faulty_series(practice)

    assert draft(practice, practice.dentist) == draft(practice, practice.dentist)


def test_a_report_of_another_practice_is_not_found(practice: Practice) -> None:
    faulty_series(practice)
    report = sign(practice, practice.dentist, draft(practice, practice.dentist))

    with pytest.raises(NotFound):
        signed_file(practice.store, practice.stranger, report.id)


def test_initials_that_are_the_same_get_numbers() -> None:
    names = {"1": "Dr Ada Lom", "2": "Ann Lee", "3": "Bo Tarn"}

    assert shown_names(names, "initials") == {"1": "AL 1", "2": "AL 2", "3": "BT"}
    assert shown_names(names, "full") == names
