"""``simulate`` as another program meets it: files, truth, label, exit status and its one line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from app.cli import main


def simulate(*options: str, template: str = "adult-18", slot: str = "UR-molar") -> int:
    return main(["simulate", "--template", template, "--slot", slot, "--width", "220", *options])


def test_it_writes_an_image_and_prints_the_truth(tmp_path: Path, capsys: Any) -> None:
    image = tmp_path / "a.png"
    status = simulate("--seed", "4", "--out", str(image))

    truth = json.loads(capsys.readouterr().out)
    assert status == 0
    assert Image.open(image).size == (220, 166)
    assert (truth["template"], truth["slot"], truth["seed"], truth["simulated"]) == (
        "adult-18",
        "UR-molar",
        4,
        True,
    )
    assert "crown:16" in truth["shown"]
    assert truth["collimated_fraction"] == 0.0


def test_errors_reach_the_truth(tmp_path: Path, capsys: Any) -> None:
    simulate(
        "--out", str(tmp_path / "a.png"), "--collimator-offset-mm=16,0", "--motion-mm", "1", "--exposure", "0.5"
    )

    truth = json.loads(capsys.readouterr().out)
    assert truth["collimated_fraction"] > 0.2
    assert truth["motion_px"] > 3
    assert truth["exposure"] == 0.5


@pytest.mark.parametrize(("ending", "key"), [("png", "Description"), ("jpg", "comment"), ("tif", 270)])
def test_the_file_says_that_it_is_simulated(tmp_path: Path, ending: str, key: Any) -> None:
    path = tmp_path / f"a.{ending}"
    simulate("--out", str(path), "--truth", str(tmp_path / "t.json"))
    image = Image.open(path)
    text = image.tag_v2[key] if ending == "tif" else image.info[key]

    assert "SIMULATED" in (text.decode() if isinstance(text, bytes) else text)


def test_the_image_says_that_it_is_simulated(tmp_path: Path) -> None:
    """A label in the lower left corner: black ground with white letters."""
    path = tmp_path / "a.png"
    simulate("--out", str(path), "--truth", str(tmp_path / "t.json"))
    corner = np.asarray(Image.open(path))[-11:, :50]

    assert (corner < 20).mean() > 0.3
    assert (corner > 110).mean() > 0.05


@pytest.mark.parametrize(("bits", "white"), [("12", 4095), ("16", 65535)])
def test_deeper_greys_go_into_a_16_bit_file(tmp_path: Path, bits: str, white: int) -> None:
    path = tmp_path / "a.png"
    simulate("--out", str(path), "--truth", str(tmp_path / "t.json"), "--bits", bits)

    assert np.asarray(Image.open(path)).max() == white


def test_the_same_seed_gives_the_same_file(tmp_path: Path) -> None:
    for name in ("a.png", "b.png"):
        simulate("--out", str(tmp_path / name), "--truth", str(tmp_path / "t.json"), "--seed", "9")

    assert (tmp_path / "a.png").read_bytes() == (tmp_path / "b.png").read_bytes()


@pytest.mark.parametrize(
    ("template", "slot"),
    [
        ("primary-8", "UR-posterior"),
        ("mixed-12", "LL-canine"),
        ("edentulous-14", "LR-molar"),
        ("adult-18", "U-occlusal"),
    ],
)
def test_every_kind_of_dentition_and_projection_can_be_taken(tmp_path: Path, template: str, slot: str) -> None:
    path = tmp_path / "a.png"

    assert simulate("--out", str(path), "--truth", str(tmp_path / "t.json"), template=template, slot=slot) == 0
    assert np.asarray(Image.open(path)).std() > 10


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--template", "adult-81"), 'no template "adult-81". Did you mean "adult-18"?'),
        (("--slot", "UR-molr"), 'no slot "UR-molr" in template "adult-18". Did you mean "UR-molar"?'),
        (("--bits", "9"), "--bits"),
        (("--width", "0"), '"0" is not a whole number from 64 to 4000'),
        (("--exposure", "nan"), '"nan" is not a number'),
        (("--exposure", "0"), '"0" is not a number'),
        (("--collimator-offset-mm", "3"), "is not two numbers in mm"),
        (("--collimator", "square"), "invalid choice: 'square'"),
        (("--untidy", "holdr"), 'no untidiness "holdr". Did you mean "holder"?'),
        (("--frobnicate",), "unrecognized arguments"),
    ],
)
def test_a_wrong_call_ends_with_2_and_one_line(
    tmp_path: Path, capsys: Any, options: tuple[str, ...], said: str
) -> None:
    path = tmp_path / "a.png"
    status = simulate("--out", str(path), *options)

    told = capsys.readouterr()
    assert status == 2
    assert said in told.err
    assert told.err.count("\n") == 1
    assert told.out == ""
    assert not path.exists()


@pytest.mark.parametrize(
    ("name", "more", "said"),
    [("a.gif", (), 'no format for the ending ".gif"'), ("a.jpg", ("--bits", "12"), "holds 8 bits, not 12")],
)
def test_a_format_that_cannot_hold_it_is_refused(
    tmp_path: Path, capsys: Any, name: str, more: tuple[str, ...], said: str
) -> None:
    assert simulate("--out", str(tmp_path / name), *more) == 2
    assert said in capsys.readouterr().err
    assert not (tmp_path / name).exists()


def test_an_image_without_its_truth_is_not_left_behind(tmp_path: Path, capsys: Any) -> None:
    image = tmp_path / "a.png"

    assert simulate("--out", str(image), "--truth", str(tmp_path / "nowhere" / "t.json")) == 2
    assert "cannot be written" in capsys.readouterr().err
    assert not image.exists()
