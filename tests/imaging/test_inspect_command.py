"""``inspect`` as its users call it: lines out, status, and no traceback."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from app.cli.inspect import run
from tests.imaging import faults
from tests.imaging.pictures import encoded, mouth, to8

ROOT = Path(__file__).resolve().parents[2]
KEYS = ["format", "file", "width", "height", "bits", "orientation", "sha256", "measurements", "findings"]


def kept(folder: Path, name: str, levels: np.ndarray, form: str = "PNG") -> str:
    place = folder / name
    place.write_bytes(encoded(to8(levels) if levels.dtype.kind == "f" else levels, form))
    return str(place)


def inspected(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, list[dict]]:
    status = run(list(arguments))
    return status, [json.loads(line) for line in capsys.readouterr().out.splitlines()]


def test_a_good_image_is_one_line_with_the_promised_keys_and_status_0(tmp_path, capsys):
    status, (line,) = inspected(capsys, kept(tmp_path, "good.png", mouth(1)))

    assert status == 0
    assert list(line) == KEYS
    assert (line["format"], line["width"], line["height"], line["bits"]) == ("fullcount-inspect/1", 520, 400, 8)
    assert line["findings"] == []
    assert all(isinstance(value, float) for value in line["measurements"].values())


def test_a_grave_finding_gives_status_1_and_has_the_promised_keys(tmp_path, capsys):
    cut = faults.cut(mouth(1), 0.2, angle=0.0)[0]
    status, (line,) = inspected(capsys, kept(tmp_path, "cut.png", cut))
    (finding,) = [each for each in line["findings"] if each["code"] == "cone_cut"]

    assert status == 1
    assert list(finding) == ["code", "severity", "score", "box", "message"]
    assert finding["severity"] == "fail"
    assert len(finding["box"]) == 4


def test_a_warning_alone_gives_status_0(tmp_path, capsys):
    name = kept(tmp_path, "wide.png", mouth(1))
    status, (line,) = inspected(capsys, name, "--slot-orientation", "portrait")

    assert [each["code"] for each in line["findings"]] == ["orientation_mismatch"]
    assert status == 0


def test_a_file_that_cannot_be_read_gives_status_2_and_the_others_are_still_inspected(tmp_path, capsys):
    text = tmp_path / "text.png"
    text.write_text("no image")
    cut = kept(tmp_path, "cut.png", faults.cut(mouth(1), 0.2, angle=0.0)[0])
    status, lines = inspected(
        capsys, str(text), cut, str(tmp_path / "absent.png"), kept(tmp_path, "b.png", mouth(2))
    )

    assert status == 2
    assert [list(line) for line in lines] == [["format", "file", "error"], KEYS, ["format", "file", "error"], KEYS]
    assert "this is text, not an image" in lines[0]["error"]
    assert "absent.png" in lines[2]["error"]


def test_a_copy_within_the_call_names_the_other_and_the_change(tmp_path, capsys):
    first = kept(tmp_path, "first.png", mouth(1))
    names = [
        kept(tmp_path, "again.png", mouth(1)),
        kept(tmp_path, "other.jpg", mouth(1), "JPEG"),
        kept(tmp_path, "flipped.png", mouth(1)[:, ::-1]),
        kept(tmp_path, "fresh.png", mouth(2)),
    ]
    status, lines = inspected(capsys, first, *names)
    told = [
        [(each["of"], each["transform"]) for each in line["findings"] if each["code"] == "duplicate"]
        for line in lines
    ]

    assert status == 1
    assert told == [[], [(first, "identical")], [(first, "re-encoded")], [(first, "mirrored")], []]


def test_lines_stand_in_the_order_of_the_files(tmp_path, capsys):
    names = [kept(tmp_path, f"{number}.png", mouth(number)) for number in (3, 1, 2, 0)] * 5
    _, lines = inspected(capsys, *names)

    assert [line["file"] for line in lines] == names


def test_an_icon_and_a_colour_picture_are_read_and_told(tmp_path, capsys):
    icon, photo = tmp_path / "icon.png", tmp_path / "photo.png"
    Image.new("RGB", (32, 32), (9, 90, 200)).save(icon)
    noise = np.random.default_rng(0).integers(0, 255, (20, 30, 3), dtype=np.uint8)
    Image.fromarray(noise).resize((600, 400)).save(photo)
    status, lines = inspected(capsys, str(icon), str(photo))

    assert status == 1
    assert [line["findings"][0]["code"] for line in lines][1] == "not_a_radiograph"


def test_deep_files_say_their_depth(tmp_path, capsys):
    status, (line,) = inspected(capsys, kept(tmp_path, "deep.tif", faults.raw16(mouth(1)), "TIFF"))

    assert (status, line["bits"]) == (0, 16)


def test_a_hostile_batch_from_the_outside_has_no_traceback(tmp_path):
    hostile = {
        "empty.png": b"",
        "cut.jpg": encoded(to8(mouth(1)), "JPEG")[:4000],
        "one.png": encoded(np.zeros((1, 1), np.uint8)),
        "thin.png": encoded(np.zeros((10, 30_000), np.uint8)),
        "float.tif": encoded(np.zeros((90, 90), np.float32), "TIFF"),
    }
    for name, data in hostile.items():
        (tmp_path / name).write_bytes(data)
    kept(tmp_path, "good.png", mouth(1))
    done = subprocess.run(
        [sys.executable, "-m", "app", "inspect", *sorted([*hostile, "good.png"]), "."],
        cwd=tmp_path, env={"PYTHONPATH": str(ROOT), "PATH": ""}, capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    lines = [json.loads(line) for line in done.stdout.splitlines()]

    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert ["error" in line for line in lines] == [True, True, True, False, True, True, True]
