"""A copy of a radiograph is found wherever it stands; a retake of the same region is none."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest

from app.imaging.decode import read_radiograph
from app.imaging.likeness import sketch_of
from app.imaging.likeness_index import RADIUS, Asked, ways_to_ask
from app.storage.columns import now
from app.storage.findings import ImageMeasure
from app.storage.practice_scope import PracticeScope
from app.storage.series import ImageRow
from app.work import copy_search
from app.work.close import close_series
from app.work.copies import candidates, measure_signature, near_signatures, signed, unsigned
from app.work.incoming import AlreadyHere, IncomingFile, LoadedImage, SameFileElsewhere
from app.work.load_images import load_image, load_images
from tests.imaging.pictures import as_radiograph, mouth
from tests.making import a_series
from tests.people import Practice, a_patient
from tests.work.radiographs import altered, from_the_same_stand, retaken, simulated

SAID = {
    "re-encoded": "saved again",
    "resized": "at another size",
    "rotated-90": "turned a quarter right",
    "mirrored": "mirrored",
}


def load(practice: Practice, series_id: str, data: bytes, name: str = "a.png", **words: object) -> LoadedImage:
    return load_image(practice.store, practice.assistant, series_id, data=data, name=name, **words)  # type: ignore[arg-type]


@pytest.mark.parametrize("how", SAID)
def test_a_copy_in_the_same_series_is_refused_and_said_how_it_was_changed(practice: Practice, how: str) -> None:
    series = a_series(practice)
    load(practice, series.id, simulated())
    before = practice.store.images.names()

    with pytest.raises(AlreadyHere, match=f"radiograph of image 1 of this series, {SAID[how]}"):
        load(practice, series.id, altered(simulated(), how))
    assert practice.store.images.names() == before


@pytest.mark.parametrize("how", ["mirrored", "rotated-90"])
def test_a_copy_in_another_patients_series_stops_the_person(practice: Practice, how: str) -> None:
    load(practice, a_series(practice).id, simulated())
    other = a_series(practice, patient_id=a_patient(practice, "H200").id)

    with pytest.raises(SameFileElsewhere, match=rf"STOP: this radiograph, {SAID[how]}, .*chart H100"):
        load(practice, other.id, altered(simulated(), how))


def test_somebody_who_is_sure_may_load_it_all_the_same(practice: Practice) -> None:
    series = a_series(practice)
    load(practice, series.id, simulated())

    assert load(practice, series.id, altered(simulated(), "mirrored"), sure=True).exposure.position == 2


def test_a_copy_in_this_patients_earlier_series_is_asked_about_without_stop(practice: Practice) -> None:
    patient = a_patient(practice)
    earlier = a_series(practice, patient_id=patient.id)
    load(practice, earlier.id, simulated(), slot="UR-molar")
    with practice.store.writing(practice.dentist.practice_id) as scope:
        doctor = practice.dentist
        close_series(scope, doctor, earlier.id, dentist_id=doctor.staff_id, reason="unwell")

    with pytest.raises(SameFileElsewhere, match="this patient's series of") as asked:
        load(practice, a_series(practice, patient_id=patient.id).id, altered(simulated(), "re-encoded"))
    assert "STOP" not in str(asked.value)


def test_a_retake_of_the_same_region_is_no_copy(practice: Practice) -> None:
    series = a_series(practice)
    load(practice, series.id, simulated())

    assert load(practice, series.id, retaken()).exposure.position == 2


def test_a_copy_in_the_same_call_is_refused_and_the_others_go_on(practice: Practice) -> None:
    series = a_series(practice)
    files = [
        IncomingFile(data=simulated(), name="one.png"),
        IncomingFile(data=altered(simulated(), "mirrored"), name="two.png"),
        IncomingFile(data=simulated("UL-molar"), name="three.png"),
    ]
    first, second, third = load_images(practice.store, practice.assistant, series.id, files)

    assert isinstance(first, LoadedImage)
    assert isinstance(second, AlreadyHere)
    assert "one.png" in str(second)
    assert isinstance(third, LoadedImage)


def test_another_practices_images_are_not_searched(practice: Practice) -> None:
    load(practice, a_series(practice).id, simulated())
    with practice.store.reading(practice.dentist.practice_id) as scope:
        (measure,) = scope.all(scope.select(ImageMeasure))
        own = near_signatures(scope, asking(unsigned(measure.signature)))
    with practice.store.reading(practice.stranger.practice_id) as scope:
        theirs = near_signatures(scope, asking(unsigned(measure.signature)))

    assert own == [measure.signature]
    assert theirs == []


def asking(value: int) -> Asked:
    return Asked(hashes=np.array(ways_to_ask(value), np.uint64), coarse=np.zeros((1, 256), np.float32))


def kept(scope: PracticeScope, number: int, **words: object) -> str:
    """An image measured before, without a file."""
    image = scope.add(ImageRow(sha256=f"{number:064d}", byte_count=1, width=9, height=9, bits=8, format="PNG"))
    words = {"signature": 5, "coarse": b"", **words}
    scope.add(ImageMeasure(image_id=image.id, orientation="square", **words))
    return image.id


def test_the_search_finds_every_signature_within_the_radius(practice: Practice) -> None:
    random = np.random.default_rng(4)
    centre = int(random.integers(0, 1 << 63)) * 2 + 1
    flips = [sum(1 << int(bit) for bit in random.choice(64, size=n % 20, replace=False)) for n in range(150)]
    hashes = [centre ^ flip for flip in flips]
    with practice.store.writing(practice.dentist.practice_id) as scope:
        for number, value in enumerate(hashes):
            kept(scope, number, signature=signed(value))
        found = {unsigned(each) for each in near_signatures(scope, asking(centre))}

    near = {each for each in hashes if min((each ^ way).bit_count() for way in ways_to_ask(centre)) <= RADIUS}
    assert found == near
    assert len(found) < len(set(hashes))


def test_what_came_after_the_first_search_is_found_by_the_second(practice: Practice) -> None:
    """By whichever clock: also what was measured, by its own account, a year before."""
    with practice.store.writing(practice.dentist.practice_id) as scope:
        kept(scope, 1, signature=7)
        first = near_signatures(scope, asking(7))
        kept(scope, 2, signature=15)
        second = near_signatures(scope, asking(7))
        kept(scope, 3, signature=23, measured_at=now() - timedelta(days=365))
        third = near_signatures(scope, asking(7))

    assert [sorted(each) for each in (first, second, third)] == [[7], [7, 15], [7, 15, 23]]


def test_all_of_thirty_equally_alike_images_are_candidates_the_series_own_first(practice: Practice) -> None:
    sketch = sketch_of(as_radiograph(mouth(1)))
    with practice.store.writing(practice.dentist.practice_id) as scope:
        ids = [kept(scope, number, **measure_signature(sketch)) for number in range(30)]
        found, left = candidates(scope, sketch, ids[20:21])

    assert (len(found), left) == (30, 0)
    assert found[0].image_id == ids[20]


def test_look_alikes_left_when_time_ran_out_are_told_on_the_upload(
    practice: Practice, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(copy_search, "SECONDS", 0.0)
    sketch = sketch_of(read_radiograph(simulated(), name="a"))
    with practice.store.writing(practice.dentist.practice_id) as scope:
        for number in range(copy_search.AT_ONCE + 3):
            kept(scope, number, **measure_signature(sketch))
    loaded = load(practice, a_series(practice).id, simulated())

    assert [each for each in loaded.notes if each.startswith("Not all look-alikes were compared: 3 were left")]


def test_another_exposure_from_the_same_stand_is_asked_about_as_a_look_alike(practice: Practice) -> None:
    series = a_series(practice)
    load(practice, series.id, simulated())

    with pytest.raises(AlreadyHere, match=r"looks like the radiograph of image 1 of this series.*Compare the two"):
        load(practice, series.id, from_the_same_stand())
    assert load(practice, series.id, from_the_same_stand(), sure=True).exposure.position == 2


def test_signatures_come_back_from_the_database_as_they_were() -> None:
    for value in (0, 1, (1 << 63) - 1, 1 << 63, (1 << 64) - 1):
        assert unsigned(signed(value)) == value
