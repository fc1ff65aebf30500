"""Measured accuracy of the findings, on simulated radiographs whose truth is known and on altered copies of them.

``python -m tests.imaging.accuracy COUNT`` prints the report for COUNT patients and slots; the tests take a small
count. A *gross* fault must be found at severity ``fail``, a *moderate* one at ``warning`` or above. Intervals are
Wilson's (J Am Stat Assoc 22:209, 1927; from memory) at 95 %: they keep their coverage at 0 and at n.
"""

from __future__ import annotations

import json
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cache
from math import sqrt
from pathlib import Path

import numpy as np

from app.cli.simulate import usual_dentition
from app.exchange.shared_data import builtin_templates
from app.imaging.decode import read_radiograph
from app.imaging.finding import Severity
from app.imaging.findings import inspect_radiograph
from app.imaging.simulator import Equipment, SlotPose, TechniqueErrors, expose, grown_mouth
from app.imaging.simulator.picture import Picture, file_bytes
from app.imaging.simulator.untidy import UNTIDY, untidied
from tests.imaging import faults

WIDTH = 420
TEMPLATES = ("adult-18", "adult-20", "mixed-12", "bitewings-4", "primary-8", "edentulous-14")
_AT_NOTE = {"text_strip": {Severity.NOTE}}
"""What is never more than a note."""
LEAST_CUT = 0.08
"""Share that the collimator must really miss for a cut to count as gross."""
Z95 = 1.96
GROSS = {
    "collimator moved",
    "light area put on",
    "blurred by 7",
    "darkened to 0.3",
    "veiled by 0.6",
    "contrast / 8",
    "noise 0.1",
    "even",
}
"""Causes that must be found at ``fail``."""


@dataclass(frozen=True)
class Case:
    """One image and what is wrong with it; an empty code for nothing."""

    code: str
    gross: bool
    cause: str
    image: bytes


@dataclass
class Tally:
    """How often something was said, of how many images."""

    hits: int = 0
    total: int = 0
    missed: list[str] = field(default_factory=list)

    @property
    def rate(self) -> float:
        return self.hits / self.total if self.total else 0.0

    @property
    def interval(self) -> tuple[float, float]:
        """Wilson's interval at 95 %."""
        if not self.total:
            return 0.0, 1.0
        n, p = self.total, self.rate
        middle = (p + Z95**2 / (2 * n)) / (1 + Z95**2 / n)
        half = Z95 / (1 + Z95**2 / n) * sqrt(p * (1 - p) / n + Z95**2 / (4 * n**2))
        return max(0.0, middle - half), min(1.0, middle + half)

    def __str__(self) -> str:
        low, high = self.interval
        return f"{self.rate:.3f} ({low:.3f} to {high:.3f}), {self.hits} of {self.total}"


def stored(levels: np.ndarray) -> bytes:
    whole = levels if levels.dtype.kind == "u" else np.rint(np.clip(levels, 0, 1) * 255).astype(np.uint8)
    return file_bytes(Picture(pixels=whole, bits=8), "PNG")


def cases(count: int) -> Iterator[Case]:
    """Good images, untidy copies of them, and faults by their physical cause or put on the image."""
    rng = np.random.default_rng(20)
    slots = [
        (template, slot)
        for template in (builtin_templates()[name] for name in TEMPLATES)
        for slot in template.slots
        if slot.required
    ]
    for number in range(count):
        template, slot = slots[int(rng.integers(len(slots)))]
        mouth = grown_mouth(usual_dentition(template), number)
        equipment = Equipment(collimator="round" if rng.random() < 0.5 else "rectangular")
        seed = int(rng.integers(1 << 30))

        def shot(errors: TechniqueErrors, slot=slot, mouth=mouth, equipment=equipment, seed=seed):
            return expose(SlotPose.of(slot), mouth, seed=seed, errors=errors, equipment=equipment, width=WIDTH)

        good = shot(TechniqueErrors()).pixels
        picture = faults.shares(good)
        yield Case("", False, "good", stored(good))
        for name in rng.choice(sorted(UNTIDY), 5, replace=False):
            made = untidied(Picture(pixels=good, bits=8), [str(name)], rng)
            yield Case("", False, str(name), file_bytes(made, "PNG"))
        side = rng.choice([-1, 1])
        offset = (float(side * rng.uniform(9, 18)), float(rng.uniform(-3, 3)))
        cut = shot(TechniqueErrors(collimator_offset_mm=offset if rng.random() < 0.6 else offset[::-1]))
        if cut.truth.as_json()["collimated_fraction"] >= LEAST_CUT:
            yield Case("cone_cut", True, "collimator moved", stored(cut.pixels))
        yield Case("too_dark", False, "exposure x 4", stored(shot(TechniqueErrors(exposure=4.0)).pixels))
        yield Case("too_light", False, "exposure / 6", stored(shot(TechniqueErrors(exposure=1 / 6)).pixels))
        moved = TechniqueErrors(motion_mm=1.5, motion_direction_deg=float(rng.uniform(0, 90)))
        yield Case("blurred", False, "moved 1.5 mm", stored(shot(moved).pixels))
        share, angle = float(rng.uniform(0.06, 0.5)), float(rng.uniform(0, 6.28))
        radius = None if rng.random() < 0.4 else float(rng.uniform(0.9, 2.0))
        light = faults.cut(picture, share, angle=angle, radius=radius)[0]
        yield Case("cone_cut", True, "light area put on", stored(light))
        dark = faults.cut(1 - picture, share, angle=angle, radius=radius, level=0.0)[0]
        yield Case("cone_cut", False, "dark area put on, other way round", stored(dark))
        yield Case("blurred", True, "blurred by 7", stored(faults.blurred(picture, 7)))
        yield Case("blurred", False, "blurred by 4.5", stored(faults.blurred(picture, 4.5)))
        yield Case("too_dark", True, "darkened to 0.3", stored(picture * 0.3))
        yield Case("too_light", True, "veiled by 0.6", stored(picture * 0.4 + 0.6))
        yield Case("low_contrast", True, "contrast / 8", stored(picture / 8 + 0.4))
        yield Case("noisy", True, "noise 0.1", stored(faults.scattered(picture, 0.1, number)))
        yield Case("noisy", False, "noise 0.06", stored(faults.scattered(picture, 0.06, number)))
        yield Case("bordered", False, "framed", stored(faults.framed(picture, float(number % 2))))
        yield Case("inverted", False, "dark and light exchanged", stored(255 - good))
        yield Case("lines", False, "scratch over half the length", stored(faults.scratched(picture, rng)))
        yield Case("double_exposed", False, "region exposed twice", stored(faults.doubled(picture, rng)))
        yield Case("saturated", False, "burnt to white", stored(faults.burnt(picture)))
        marked = untidied(Picture(pixels=good, bits=8), ["corner_text"], rng)
        yield Case("text_strip", False, "text in a corner", file_bytes(marked, "PNG"))
        level = float(rng.random())
        empty = faults.scattered(np.full(picture.shape, level, np.float32), 0.01, number)
        yield Case("blank", True, "even", stored(empty))


@cache
def measured(count: int) -> tuple[dict[tuple[str, str], Tally], dict[str, Tally]]:
    """Sensitivity by code and cause, and false alarms by severity (images without a fault that got one)."""
    found: dict[tuple[str, str], Tally] = {}
    false = {"fail": Tally(), "warning": Tally()}
    for case in cases(count):
        said = inspect_radiograph(read_radiograph(case.image, name=case.cause, allow_colour=True)).findings
        if case.code:
            wanted = (
                {Severity.FAIL}
                if case.gross
                else set(Severity) - ({Severity.NOTE} - _AT_NOTE.get(case.code, set()))
            )
            tally = found.setdefault((case.code, case.cause), Tally())
            tally.total += 1
            tally.hits += any(each.code == case.code and each.severity in wanted for each in said)
            continue
        # A frame or a strip really is there in an untidy copy.
        alarms = [each for each in said if each.code != "bordered"]
        for severity, tally in false.items():
            counted = {Severity.FAIL} if severity == "fail" else {Severity.FAIL, Severity.WARNING}
            wrong = [each.code.value for each in alarms if each.severity in counted]
            tally.total += 1
            tally.hits += bool(wrong)
            if wrong:
                tally.missed.append(f"{case.cause}: {', '.join(wrong)}")
    return found, false


def report(count: int) -> str:
    """The measured accuracy, as lines of text."""
    found, false = measured(count)
    lines = [f"{code:13} {cause:36} {tally}" for (code, cause), tally in sorted(found.items())]
    for severity, tally in false.items():
        lines += [f"false alarms at {severity}: {tally}", *(f"    {each}" for each in tally.missed)]
    return "\n".join(lines)


REPORT = Path(__file__).resolve().parents[2] / "shared" / "findings" / "accuracy.json"


def as_data(count: int) -> dict[str, object]:
    """The measured accuracy for the pages that report it."""
    found, false = measured(count)
    return {
        "about": "Measured on simulated radiographs with injected causes and on altered copies of them; real "
        "images will differ. Intervals are Wilson's at 95 %. Repeat: python -m tests.imaging.accuracy N --write",
        "grade": "computed: tests/imaging/accuracy.py",
        "date": datetime.now(UTC).date().isoformat(),
        "patients_and_slots": count,
        "aims": {
            "gross_at_fail": 0.95,
            "moderate_at_warning": 0.9,
            "false_at_fail": 0.02,
            "false_at_warning": 0.1,
        },
        "codes": [
            {
                "code": code,
                "cause": cause,
                "gross": cause in GROSS,
                "injected": tally.total,
                "found": tally.hits,
                "sensitivity": round(tally.rate, 4),
                "interval": [round(each, 4) for each in tally.interval],
            }
            for (code, cause), tally in sorted(found.items())
        ],
        "false_alarms": {
            severity: {
                "images": tally.total,
                "wrong": tally.hits,
                "rate": round(tally.rate, 4),
                "interval": [round(each, 4) for each in tally.interval],
                "said": dict(sorted(Counter(tally.missed).items())),
            }
            for severity, tally in false.items()
        },
    }


if __name__ == "__main__":
    wanted = next((int(each) for each in sys.argv[1:] if each.isdigit()), 20)
    print(report(wanted))
    if "--write" in sys.argv:
        REPORT.write_text(json.dumps(as_data(wanted), indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
