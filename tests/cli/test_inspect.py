"""``inspect`` as another program meets it: a JSON object a line, its exit status, other files still inspected."""

from __future__ import annotations

import io
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from app.core.dentition import Dentition
from app.exchange.shared_data import builtin_templates
from app.imaging.simulator import SlotPose, TechniqueErrors, expose, grown_mouth
from app.imaging.simulator.picture import Picture, file_bytes, labelled

ROOT = Path(__file__).resolve().parents[2]
KEYS = {"format", "file", "width", "height", "bits", "orientation", "sha256", "measurements", "findings"}
CODES = {
    "blank", "too_light", "too_dark", "low_contrast", "blurred", "noisy", "cone_cut", "orientation_mismatch",
    "duplicate", "bordered", "not_a_radiograph",
}  # fmt: skip


@pytest.fixture(scope="module")
def radiographs(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Simulated images: a good one, and one for each gross fault."""
    folder = tmp_path_factory.mktemp("radiographs")
    mouth = grown_mouth(Dentition(), 11)
    slot = builtin_templates()["adult-18"].slot("UL-premolar")
    causes = {
        "good": TechniqueErrors(),
        "cone-cut": TechniqueErrors(collimator_offset_mm=(16.0, 0.0)),
        "light": TechniqueErrors(exposure=0.08),
        "dark": TechniqueErrors(exposure=14.0),
        "moved": TechniqueErrors(motion_mm=2.5, motion_direction_deg=20.0),
    }
    files: dict[str, Path] = {}
    for number, (name, errors) in enumerate(causes.items()):
        made = expose(SlotPose.of(slot), mouth, seed=number, errors=errors, width=900)
        files[name] = folder / f"{name}.png"
        files[name].write_bytes(file_bytes(labelled(Picture(pixels=made.pixels, bits=made.bits)), "PNG"))
    return files


def inspected(*arguments: object) -> tuple[int, list[dict[str, Any]], bytes]:
    done = subprocess.run(
        [sys.executable, "-m", "app", "inspect", *map(str, arguments)], capture_output=True, cwd=ROOT, timeout=120
    )
    return done.returncode, [json.loads(line) for line in done.stdout.splitlines()], done.stderr


def codes(answer: dict[str, Any], severity: str | None = None) -> set[str]:
    return {each["code"] for each in answer["findings"] if severity in (None, each["severity"])}


def test_a_good_image_has_every_key_and_no_failure(radiographs: dict[str, Path]) -> None:
    status, (answer,), _ = inspected(radiographs["good"], "--slot-orientation", "landscape")

    assert set(answer) == KEYS
    assert (answer["format"], answer["bits"], answer["orientation"]) == ("fullcount-inspect/1", 8, "landscape")
    assert codes(answer, "fail") == set()
    assert status == 0


@pytest.mark.parametrize(
    ("cause", "code"),
    [("cone-cut", "cone_cut"), ("light", "too_light"), ("dark", "too_dark")],
)
def test_a_gross_fault_fails_and_is_named(radiographs: dict[str, Path], cause: str, code: str) -> None:
    status, (answer,), _ = inspected(radiographs[cause])

    assert code in codes(answer, "fail")
    assert codes(answer) <= CODES
    assert status == 1


def test_movement_is_found(radiographs: dict[str, Path]) -> None:
    """Edges along the movement stay sharp, so it may come as a warning."""
    _, (answer,), _ = inspected(radiographs["moved"])

    assert "blurred" in codes(answer)


def test_an_orientation_that_contradicts_the_slot_is_pointed_out(radiographs: dict[str, Path]) -> None:
    _, (answer,), _ = inspected(radiographs["good"], "--slot-orientation", "portrait")

    assert "orientation_mismatch" in codes(answer)


def test_the_same_radiograph_turned_mirrored_and_saved_again_is_a_duplicate(
    radiographs: dict[str, Path], tmp_path: Path
) -> None:
    with Image.open(radiographs["good"]) as image:
        turned = image.convert("L").transpose(Image.Transpose.ROTATE_90)
        mirrored = image.convert("L").transpose(Image.Transpose.FLIP_LEFT_RIGHT).resize((600, 453))
    turned.save(tmp_path / "turned.jpg", quality=80)
    mirrored.save(tmp_path / "mirrored.png")

    _, answers, _ = inspected(radiographs["good"], tmp_path / "turned.jpg", tmp_path / "mirrored.png")

    found = [each for answer in answers[1:] for each in answer["findings"] if each["code"] == "duplicate"]
    assert [each["of"] for each in found] == [str(radiographs["good"])] * 2
    assert all(each["transform"] for each in found)


def test_a_retake_of_the_same_region_is_no_duplicate(radiographs: dict[str, Path]) -> None:
    _, answers, _ = inspected(radiographs["good"], radiographs["moved"])

    assert not any("duplicate" in codes(answer) for answer in answers)


def test_a_file_that_cannot_be_read_is_told_and_the_others_are_inspected(
    radiographs: dict[str, Path], tmp_path: Path
) -> None:
    broken = tmp_path / "broken.png"
    broken.write_bytes(radiographs["good"].read_bytes()[:500])

    status, answers, _ = inspected(broken, radiographs["good"], tmp_path / "missing.png")

    assert status == 2
    assert "error" in answers[0]
    assert set(answers[1]) == KEYS
    assert "error" in answers[2]


def test_a_colour_photograph_is_no_radiograph(tmp_path: Path) -> None:
    picture = Image.radial_gradient("L").resize((640, 480))
    colour = Image.merge("RGB", (picture, picture.rotate(90), picture.transpose(Image.Transpose.FLIP_TOP_BOTTOM)))
    out = io.BytesIO()
    Image.blend(colour, Image.new("RGB", (640, 480), (200, 60, 20)), 0.5).save(out, "PNG")
    (tmp_path / "photo.png").write_bytes(out.getvalue())

    status, (answer,), _ = inspected(tmp_path / "photo.png")

    assert "not_a_radiograph" in codes(answer)
    assert status == 1
