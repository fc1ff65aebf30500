"""Findings are recorded with the exposure, decided by a person, and counted."""

from __future__ import annotations

import pytest

from app.core.errors import FullcountError, InputError
from app.imaging.thresholds import usual_thresholds
from app.storage.findings import FindingRow, ImageMeasure
from app.storage.series import ExposureRow, ImageRow, SeriesRow
from app.work import receptor_thresholds
from app.work.audit_series import frozen_template
from app.work.close import close_series
from app.work.findings import agreement_of_findings, decide_finding, findings_of, targets_taken
from app.work.load_images import load_image
from app.work.receptor_thresholds import normal_measures, set_threshold, set_thresholds_of, thresholds_for
from tests.making import a_finding, a_series, loaded
from tests.people import Practice
from tests.work.radiographs import cone_cut, simulated


def of_exposure(practice: Practice, exposure_id: str) -> list[FindingRow]:
    with practice.store.reading(practice.dentist.practice_id) as scope:
        return findings_of(scope, [exposure_id]).get(exposure_id, [])


def with_finding(practice: Practice, **words: object) -> tuple[SeriesRow, FindingRow]:
    series = a_series(practice)
    exposure = loaded(practice, series, slot="UR-molar")
    with practice.store.writing(practice.dentist.practice_id) as scope:
        for each in findings_of(scope, [exposure.id]).get(exposure.id, []):
            scope.session.delete(each)
        scope.session.flush()
        return series, scope.add(a_finding(exposure.id, **words))  # type: ignore[return-value,arg-type]


def decide(practice: Practice, finding: FindingRow, decision: str, **words: object) -> FindingRow:
    with practice.store.writing(practice.dentist.practice_id) as scope:
        return decide_finding(scope, practice.assistant, finding.id, decision, **words)  # type: ignore[arg-type]


def test_a_cone_cut_is_found_as_the_image_arrives_with_its_place_and_its_shortfall(practice: Practice) -> None:
    series = a_series(practice)
    made = load_image(
        practice.store, practice.assistant, series.id, data=cone_cut(), name="cut.png", slot="UR-molar"
    )
    found = [each for each in of_exposure(practice, made.exposure.id) if each.code == "cone_cut"]

    assert found
    assert found[0].proposes == "cone_cut"
    assert found[0].box
    assert found[0].decision == "open"


def test_an_image_without_fault_is_measured_and_proposes_nothing(practice: Practice) -> None:
    series = a_series(practice)
    made = load_image(
        practice.store, practice.assistant, series.id, data=simulated(), name="good.png", slot="UR-molar"
    )
    with practice.store.reading(practice.dentist.practice_id) as scope:
        (measure,) = scope.all(scope.select(ImageMeasure))

    assert measure.image_id == made.exposure.image_id
    assert measure.measurements["contrast"] > 0
    assert [each for each in of_exposure(practice, made.exposure.id) if each.proposes] == []


def test_accepting_keeps_the_proposed_shortfall_with_its_targets_and_whose_it_was(practice: Practice) -> None:
    _, finding = with_finding(practice)
    kept = decide(practice, finding, "accepted", targets=["crown:18"])

    assert (kept.decision, kept.chosen, kept.chosen_targets) == ("accepted", "cone_cut", ["crown:18"])
    assert kept.decided_by == practice.assistant.staff_id
    assert kept.decided_at is not None


def test_dismissing_keeps_no_shortfall(practice: Practice) -> None:
    _, finding = with_finding(practice)
    decide(practice, finding, "accepted", targets=["crown:18"])
    kept = decide(practice, finding, "dismissed", targets=["crown:18"])

    assert (kept.decision, kept.chosen, kept.chosen_targets) == ("dismissed", None, [])


@pytest.mark.parametrize(
    ("decision", "code", "field"),
    [("perhaps", None, "decision"), ("changed", None, "code"), ("changed", "x", "code")],
)
def test_a_decision_that_is_none_is_refused_at_its_field(
    practice: Practice, decision: str, code: str | None, field: str
) -> None:
    _, finding = with_finding(practice)

    with pytest.raises(InputError) as refused:
        decide(practice, finding, decision, code=code)
    assert refused.value.path == field


def test_nothing_is_decided_in_a_closed_series(practice: Practice) -> None:
    series, finding = with_finding(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        close_series(scope, practice.dentist, series.id, dentist_id=practice.dentist.staff_id, reason="unwell")

    with pytest.raises(FullcountError, match="closed"):
        decide(practice, finding, "accepted")


def test_agreement_counts_each_decision_with_an_interval_of_what_was_accepted(practice: Practice) -> None:
    _, finding = with_finding(practice)
    decide(practice, finding, "accepted")
    with practice.store.writing(practice.dentist.practice_id) as scope:
        for number, decision in enumerate(("changed", "dismissed", "open"), start=2):
            row = a_finding(finding.exposure_id, number=number)
            row.decision = decision
            scope.add(row)
    with practice.store.reading(practice.dentist.practice_id) as scope:
        (line,) = agreement_of_findings(scope, practice.assistant)

    assert (line.code, line.severity) == ("cone_cut", "fail")
    assert (line.shown, line.accepted, line.changed, line.dismissed) == (4, 1, 1, 1)
    assert line.share.share == pytest.approx(1 / 3)


def taken(practice: Practice, series: SeriesRow, view: dict[str, object], **size: int) -> set[str]:
    image = ImageRow(sha256="0" * 64, byte_count=1, width=80, height=60, bits=8, format="PNG")
    for name, value in size.items():
        setattr(image, name, value)
    slot = frozen_template(series).slot("UR-molar")
    promised = [each for each in slot.shows if each.startswith(("crown", "ridge"))]
    return set(targets_taken(a_finding("x"), image, view, slot, promised))


def test_what_a_region_takes_follows_how_the_image_is_laid(practice: Practice) -> None:
    """The left third of the file is the right third once it is mirrored: there stands the first molar."""
    series = a_series(practice)

    assert "crown:18" in taken(practice, series, {})
    assert "crown:16" not in taken(practice, series, {})
    assert "crown:16" in taken(practice, series, {"mirrored": True})
    assert "crown:18" not in taken(practice, series, {"mirrored": True})


def test_an_image_that_lies_otherwise_than_its_slot_puts_everything_in_question(practice: Practice) -> None:
    series = a_series(practice)

    assert {"crown:16", "crown:17", "crown:18"} <= taken(practice, series, {}, width=60, height=80)


def test_a_threshold_of_a_receptor_is_used_until_it_is_taken_back(practice: Practice) -> None:
    from app.work.practice import add_receptor

    with practice.store.writing(practice.dentist.practice_id) as scope:
        receptor = add_receptor(scope, practice.dentist, name="Plate 7", kind="phosphor_plate", size="2").id
        words = {"name": "blurred.warning", "reason": "softer plate"}
        set_threshold(scope, practice.dentist, receptor, value="4,5", **words)
        used = thresholds_for(scope, receptor)
        set_threshold(scope, practice.dentist, receptor, value="", **words)

        assert used is not None
        assert used["blurred.warning"] == 4.5
        assert thresholds_for(scope, receptor) is None
        assert [each.value for each in set_thresholds_of(scope, receptor)] == [None, 4.5]


def test_the_range_of_a_receptor_is_not_moved_by_a_few_faulty_images() -> None:
    usual = [{"darkness": 0.45 + 0.01 * (n % 5)} for n in range(40)]
    spoiled = [*usual, *({"darkness": 0.02} for _ in range(4))]
    (clean,), (dirty,) = normal_measures(usual), normal_measures(spoiled)

    assert dirty.median == pytest.approx(clean.median, abs=0.011)
    assert dirty.low > 0.3


def test_no_range_is_told_of_few_images() -> None:
    assert normal_measures([{"darkness": 0.4}] * 29) == []


def test_a_threshold_changes_what_is_found(practice: Practice) -> None:
    from app.work.practice import add_receptor

    with practice.store.writing(practice.dentist.practice_id) as scope:
        receptor = add_receptor(scope, practice.dentist, name="Plate 7", kind="phosphor_plate", size="2").id
        set_threshold(scope, practice.dentist, receptor, name="too_dark.warning", value="0.95", reason="a test")
    series = a_series(practice)
    made = load_image(
        practice.store, practice.assistant, series.id, data=simulated(), name="a.png", receptor_id=receptor
    )

    assert "too_dark" in {each.code for each in of_exposure(practice, made.exposure.id)}


def a_noisy_receptor(practice: Practice, images: int) -> str:
    """A receptor with that many measured images, each noisier than usual, and a little different."""
    from app.work.practice import add_receptor

    series = a_series(practice)
    exposure = loaded(practice, series, slot="UR-molar")
    with practice.store.writing(practice.dentist.practice_id) as scope:
        receptor = add_receptor(scope, practice.dentist, name="Plate 7", kind="phosphor_plate", size="2").id
        row = scope.get(ExposureRow, exposure.id, "image")
        row.receptor_id = receptor
        scope.session.add(row)
        kept = scope.first(scope.select(ImageMeasure).where(ImageMeasure.image_id == row.image_id))
        assert kept is not None
        noisy = usual_thresholds()["noisy.warning"]
        for number in range(images - 1):
            image = scope.add(
                ImageRow(sha256=f"{number:064x}", byte_count=1, width=9, height=9, bits=8, format="PNG")
            )
            measured = dict(kept.measurements) | {"noise_ratio": noisy * (1.0 + 0.01 * (number % 5))}
            scope.add(
                ImageMeasure(
                    **kept.model_dump(exclude={"id", "image_id", "measurements"}),
                    image_id=image.id,
                    measurements=measured,
                )
            )
            scope.add(
                ExposureRow(
                    **row.model_dump(exclude={"id", "image_id", "position", "slot"}),
                    image_id=image.id,
                    position=number + 2,
                )
            )
    return receptor


def test_a_noisier_receptor_is_measured_by_its_own_range_after_thirty_images(practice: Practice) -> None:
    receptor = a_noisy_receptor(practice, 31)
    with practice.store.reading(practice.dentist.practice_id) as scope:
        used = thresholds_for(scope, receptor)

    assert used is not None
    assert used["noisy.warning"] > usual_thresholds()["noisy.warning"]
    assert used["noisy.warning"] <= 1.5 * usual_thresholds()["noisy.warning"]


def test_with_fewer_images_the_usual_range_holds(practice: Practice) -> None:
    receptor = a_noisy_receptor(practice, 29)
    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert thresholds_for(scope, receptor) is None


def test_a_range_is_learned_once_until_other_images_count(
    practice: Practice, monkeypatch: pytest.MonkeyPatch
) -> None:
    receptor = a_noisy_receptor(practice, 31)
    read = []
    measurements = receptor_thresholds._measurements
    monkeypatch.setattr(receptor_thresholds, "_measurements", lambda *of: read.append(of) or measurements(*of))
    with practice.store.writing(practice.dentist.practice_id) as scope:
        first = thresholds_for(scope, receptor)
        second = thresholds_for(scope, receptor)
        known = len(read)
        for row in scope.all(scope.select(ExposureRow).where(ExposureRow.receptor_id == receptor))[:2]:
            row.set_aside_reason = "not of this series"
            scope.session.add(row)
        scope.session.flush()
        third = thresholds_for(scope, receptor)

    assert first == second != third
    assert third is None
    assert (known, len(read)) == (1, 2)


def test_what_a_dentist_set_comes_before_what_was_learned(practice: Practice) -> None:
    receptor = a_noisy_receptor(practice, 31)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        set_threshold(scope, practice.dentist, receptor, name="noisy.warning", value="0.9", reason="old plate")
        used = thresholds_for(scope, receptor)

    assert used is not None
    assert used["noisy.warning"] == 0.9


def test_an_image_leaves_a_reading_of_its_receptor_as_it_arrives(practice: Practice) -> None:
    from app.storage.quality import ReceptorReading
    from app.work.practice import add_receptor

    with practice.store.writing(practice.dentist.practice_id) as scope:
        receptor = add_receptor(scope, practice.dentist, name="Plate 7", kind="phosphor_plate", size="2").id
    made = load_image(
        practice.store, practice.assistant, a_series(practice).id, data=simulated(), name="good.png",
        slot="UR-molar", receptor_id=receptor,
    )  # fmt: skip
    with practice.store.reading(practice.dentist.practice_id) as scope:
        (reading,) = scope.all(scope.select(ReceptorReading))

    assert reading.exposure_id == made.exposure.id
    assert reading.receptor_id == receptor
    assert reading.enamel_grey is not None
    assert reading.enamel_grey > 0.3
