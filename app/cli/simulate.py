"""``simulate``: a synthetic radiograph of one slot of a template, with its ground truth."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from pathlib import Path
from typing import NoReturn

import numpy as np

from app.core.dentition import Dentition, ToothState
from app.core.errors import InputError, did_you_mean
from app.core.teeth import PERMANENT
from app.core.templates import Template
from app.exchange.shared_data import builtin_templates
from app.imaging.simulator import Equipment, SlotPose, TechniqueErrors, expose, grown_mouth
from app.imaging.simulator.picture import Picture, file_bytes, file_format, labelled
from app.imaging.simulator.untidy import UNTIDY, untidied

WIDEST = 4000
"""Columns of the largest image: about twice what the finest receptors deliver."""


class _Parser(argparse.ArgumentParser):
    """A parser whose mistakes are one clear line."""

    def error(self, message: str) -> NoReturn:
        raise InputError("simulate", f"{message}. python -m app simulate --help tells the options")


def run(arguments: list[str]) -> int:
    """0 when image and truth are written."""
    options = _parser().parse_args(arguments)
    template = _template(options.template)
    slot = template.slot(options.slot, "--slot")
    try:
        fmt = file_format(options.out)
    except ValueError as error:
        raise InputError(f"--out {options.out}", str(error)) from error
    names = [name for name in options.untidy.split(",") if name]
    for name in names:
        if name not in UNTIDY:
            raise InputError("--untidy", f'no untidiness "{name}".{did_you_mean(name, UNTIDY)}')
    try:
        mouth = grown_mouth(usual_dentition(template), options.seed)
        made = expose(
            SlotPose.of(slot),
            mouth,
            seed=options.seed,
            errors=_errors(options),
            equipment=Equipment(collimator=options.collimator, technique=options.technique),
            width=options.width,
            bits=options.bits,
        )
        picture = untidied(
            Picture(pixels=made.pixels, bits=made.bits), names, np.random.default_rng((options.seed, 11))
        )
        content = file_bytes(labelled(picture), fmt)
    except ValueError as error:
        raise InputError("simulate", f"{error}") from error
    truth = json.dumps(
        {
            "simulated": True, "template": template.id, "slot": slot.id, "seed": options.seed,
            "pixel_mm": round(made.pixel_mm, 5), "untidy": names, **made.truth.as_json(),
        },
        ensure_ascii=False, indent=1,
    )  # fmt: skip
    _write(options.out, content)
    if options.truth == "-":
        print(truth)
        return 0
    try:
        _write(options.truth, (truth + "\n").encode("utf-8"))
    except InputError:
        # An image without its truth is half a result.
        Path(options.out).unlink(missing_ok=True)
        raise
    return 0


def usual_dentition(template: Template) -> Dentition:
    """The dentition that a template is made for: permanent, primary, a child's at eight, or none."""
    shown = {target for slot in template.slots for target in slot.shows}
    if "crown:11" in shown and "crown:51" in shown:
        states: dict[str, ToothState] = {}
        for permanent, primary in (("1", "5"), ("2", "6"), ("3", "7"), ("4", "8")):
            states |= {permanent + place: ToothState.PRESENT for place in "126"}
            states |= {primary + place: ToothState.PRESENT for place in "345"}
            states |= {permanent + place: ToothState.UNERUPTED for place in "3457"}
        return Dentition(kind="mixed", states=states)
    if not any(target.startswith("crown:") and target[6] in "1234" for target in shown):
        return Dentition(kind="primary")
    if all((slot.projection or "").startswith("edentulous") for slot in template.slots):
        return Dentition(states=dict.fromkeys(PERMANENT, ToothState.MISSING))
    return Dentition()


def _template(name: str) -> Template:
    known = builtin_templates()
    if name not in known:
        raise InputError("--template", f'no template "{name}".{did_you_mean(name, known)}')
    return known[name]


def _errors(options: argparse.Namespace) -> TechniqueErrors:
    return TechniqueErrors(
        vertical_deg=options.vertical_deg,
        horizontal_deg=options.horizontal_deg,
        shift_mesial_mm=options.shift_mesial_mm,
        shift_depth_mm=options.shift_depth_mm,
        tilt_deg=options.tilt_deg,
        rotation_deg=options.rotation_deg,
        distance_mm=options.distance_mm,
        collimator_offset_mm=options.collimator_offset_mm,
        motion_mm=options.motion_mm,
        motion_direction_deg=options.motion_direction_deg,
        exposure=options.exposure,
    )


def _write(name: str, content: bytes) -> None:
    try:
        Path(name).write_bytes(content)
    except OSError as error:
        raise InputError(name, f"cannot be written ({error.strerror or error}). Check the folder") from error


def _number(low: float, high: float) -> Callable[[str], float]:
    def read(text: str) -> float:
        try:
            value = float(text)
        except ValueError:
            value = float("nan")
        if not low <= value <= high:
            raise argparse.ArgumentTypeError(f'"{text}" is not a number from {low:g} to {high:g}')
        return value

    return read


def _whole(low: int, high: int) -> Callable[[str], int]:
    def read(text: str) -> int:
        if not text.isascii() or not text.isdigit() or not low <= int(text) <= high:
            raise argparse.ArgumentTypeError(f'"{text}" is not a whole number from {low} to {high}')
        return int(text)

    return read


def _pair(text: str) -> tuple[float, float]:
    read = _number(-60.0, 60.0)
    parts = text.split(",")
    if len(parts) != 2:
        raise argparse.ArgumentTypeError(f'"{text}" is not two numbers in mm. Write them like 8,-3')
    return (read(parts[0]), read(parts[1]))


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="python -m app simulate",
        description="Makes a synthetic radiograph of one slot and its ground truth as JSON.",
        allow_abbrev=False,
    )
    add = parser.add_argument
    add("--template", required=True, metavar="ID", help="a built-in template, like adult-18")
    add("--slot", required=True, metavar="ID", help="one of its slots, like UR-molar")
    add("--out", required=True, metavar="FILE", help="the image: .png, .jpg or .tif")
    add("--truth", default="-", metavar="FILE", help="the ground truth (default: standard output)")
    add("--seed", type=_whole(0, 2**31 - 1), default=0, help="of patient and noise (default 0)")
    add("--bits", type=int, choices=(8, 12, 16), default=8, help="depth; 12 stand in a 16-bit file (default 8)")
    add("--width", type=_whole(64, WIDEST), default=1300, help="columns (default 1300)")
    for name, what in (
        ("vertical", "tube steeper (+) or flatter (-)"),
        ("horizontal", "tube toward the front (+) or the back (-)"),
        ("tilt", "receptor leaning away from the teeth at the roots (+)"),
        ("rotation", "receptor turned in its own plane"),
    ):
        add(f"--{name}-deg", type=_number(-60, 60), default=0.0, metavar="DEG", help=what)
    add("--shift-mesial-mm", type=_number(-60, 60), default=0.0, metavar="MM", help="receptor moved forward")
    add("--shift-depth-mm", type=_number(-60, 60), default=0.0, metavar="MM", help="receptor moved to the roots")
    add("--distance-mm", type=_number(-150, 400), default=0.0, metavar="MM", help="tube further away")
    add("--motion-mm", type=_number(0, 20), default=0.0, metavar="MM", help="movement during the exposure")
    add("--motion-direction-deg", type=_number(-180, 180), default=0.0, metavar="DEG", help="0 level, 90 upright")
    add("--exposure", type=_number(0.001, 100), default=1.0, metavar="FACTOR", help="factor on the right one")
    add(
        "--collimator-offset-mm",
        type=_pair,
        default=(0.0, 0.0),
        metavar="X,Y",
        help="collimator moved right and up on the image; write --collimator-offset-mm=-8,3",
    )
    add("--collimator", choices=("rectangular", "round"), default="rectangular", help="shape of the beam")
    add("--technique", choices=("paralleling", "bisecting"), default="paralleling", help="of periapicals")
    add("--untidy", default="", metavar="NAMES", help=f"what the file went through: {', '.join(UNTIDY)}")
    return parser
