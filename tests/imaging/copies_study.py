"""How surely copies are told from retakes: ``python -m tests.imaging.copies_study [PATIENTS]``.

For each simulated patient and slot one exposure is taken, copies of it are made by every change that a copy
meets, and the region is exposed again: from the same stand, after tube and receptor moved, and with the tube
turned. A copy may be called sure or a look-alike; a retake with the tube turned may be neither. Noise, blur and
size of the receptor change from patient to patient, so that no threshold rests on one of them.
"""

from __future__ import annotations

import sys
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator

import numpy as np

from app.cli.simulate import usual_dentition
from app.exchange.shared_data import builtin_templates
from app.imaging.likeness import Sketch, compare, sketch_of
from app.imaging.simulator import Detector, Equipment, SlotPose, TechniqueErrors, expose, grown_mouth
from tests.imaging import faults
from tests.imaging.accuracy import TEMPLATES
from tests.imaging.pictures import as_radiograph

RECEPTORS = (
    (700, Detector(photons_per_mm2=2.5e6)),
    (1000, Detector()),
    (1300, Detector(photons_per_mm2=4.0e7)),
    (520, Detector(blur_mm=0.06)),
    (1000, Detector(photons_per_mm2=3.0e7, blur_mm=0.03)),
)
"""Columns and response, in turn: a quarter to four times the usual quanta."""
AGAIN: dict[str, dict[str, float]] = {
    "same stand": {},
    "same stand, a third more": {"exposure": 1.3},
    "moved 1 mm": {"shift_mesial_mm": 1.0},
    "moved 2 mm": {"shift_depth_mm": 2.0},
    "moved 4 mm": {"shift_mesial_mm": -4.0},
    "turned 1°": {"horizontal_deg": 1.0},
    "turned 2°": {"vertical_deg": 2.0},
    "turned 3°": {"horizontal_deg": -3.0},
    "turned 4.5°": {"vertical_deg": -4.5},
    "turned 6°": {"vertical_deg": 4.2, "horizontal_deg": 4.2},
    "turned 3° and moved 2 mm": {"vertical_deg": 2.1, "horizontal_deg": 2.1, "shift_mesial_mm": 2.0},
}


def cut(levels: np.ndarray, share: float) -> np.ndarray:
    """A share of each side cut off, a third of it above and at the right."""
    rows, columns = (round(side * share) for side in levels.shape)
    return levels[rows // 3 : levels.shape[0] - rows * 2 // 3, columns * 2 // 3 : levels.shape[1] - columns // 3]


def sized(levels: np.ndarray, factor: float) -> np.ndarray:
    """At another size, stored in 8 bits."""
    made = faults.resized(shares(levels), round(levels.shape[1] * factor), round(levels.shape[0] * factor))
    return np.rint(made * 255).astype(np.uint8)


def shares(levels: np.ndarray) -> np.ndarray:
    return levels.astype(np.float32) / 255


def sketched(levels: np.ndarray, quality: int | None = None) -> Sketch:
    """The sketch of a file of these levels; a JPEG where a quality is given."""
    whole = np.ascontiguousarray(levels)
    return sketch_of(as_radiograph(whole) if quality is None else as_radiograph(whole, "JPEG", quality=quality))


COPIES: dict[str, Callable[[np.ndarray], Sketch]] = {
    "JPEG 95": lambda p: sketched(p, 95),
    "JPEG 80": lambda p: sketched(p, 80),
    "JPEG 60": lambda p: sketched(p, 60),
    "half the size": lambda p: sketched(sized(p, 0.5)),
    "1.5 times the size": lambda p: sketched(sized(p, 1.5)),
    "cut by 2 %": lambda p: sketched(cut(p, 0.02)),
    "cut by 5 %": lambda p: sketched(cut(p, 0.05)),
    "cut by 10 %": lambda p: sketched(cut(p, 0.10)),
    "another window": lambda p: sketched(np.clip((shares(p) - 0.05) / 0.75, 0, 1)),
    "gamma 0.6": lambda p: sketched(shares(p) ** 0.6),
    "mirrored": lambda p: sketched(p[:, ::-1]),
    "a quarter turn": lambda p: sketched(np.rot90(p)),
    "cut by 5 %, JPEG 60": lambda p: sketched(cut(p, 0.05), 60),
    "window, JPEG 75": lambda p: sketched(np.clip((shares(p) - 0.05) / 0.75, 0, 1), 75),
    "cut by 5 %, 0.7 times the size, JPEG 75": lambda p: sketched(sized(cut(p, 0.05), 0.7), 75),
    "mirrored, cut by 3 %, half the size, JPEG 80": lambda p: sketched(sized(cut(p, 0.03)[:, ::-1], 0.5), 80),
    "a quarter turn, gamma 0.7, JPEG 85": lambda p: sketched(shares(np.rot90(p)) ** 0.7, 85),
    "half the size, JPEG 60": lambda p: sketched(sized(p, 0.5), 60),
}


def said(one: Sketch, other: Sketch) -> str:
    """What the comparison says: copy, look-alike or another."""
    likeness = compare(one, other)
    return "another" if likeness is None else "copy" if likeness.sure else "look-alike"


def verdicts(patients: int) -> Iterator[tuple[str, str, str]]:
    """``copy`` or ``retake``, what was done, and what the comparison says of it."""
    random = np.random.default_rng(31)
    chosen = [builtin_templates()[name] for name in TEMPLATES]
    slots = [(template, slot) for template in chosen for slot in template.slots if slot.required]
    for number in range(patients):
        template, slot = slots[int(random.integers(len(slots)))]
        mouth = grown_mouth(usual_dentition(template), 7000 + number)
        equipment = Equipment(collimator="round" if number % 2 else "rectangular")
        width, detector = RECEPTORS[number % len(RECEPTORS)]

        def shot(seed, mouth=mouth, slot=slot, equipment=equipment, width=width, detector=detector, **errors):
            pose = SlotPose.of(slot)
            wrong = TechniqueErrors(**errors)
            return expose(
                pose, mouth, seed=seed, errors=wrong, equipment=equipment, detector=detector, width=width
            ).pixels

        levels = shot(number)
        first = sketched(levels)
        for name, change in COPIES.items():
            yield "copy", name, said(change(levels), first)
        for seed, (name, errors) in enumerate(AGAIN.items(), start=1000):
            again = shot(seed + 100 * number, **errors)
            yield "retake", name, said(sketched(again), first)
            yield "retake", f"{name}, JPEG 60", said(sketched(again, 60), first)


def report(patients: int) -> str:
    """How often each was said, as lines of text."""
    counts: dict[tuple[str, str], Counter[str]] = defaultdict(Counter)
    for kind, name, verdict in verdicts(patients):
        counts[kind, name][verdict] += 1
        counts[kind, "ALL"][verdict] += 1
    lines = [f"{'':54} copy  look-alike  another"]
    for (kind, name), of in sorted(counts.items()):
        lines.append(f"{kind:7} {name:46} {of['copy']:4}  {of['look-alike']:10}  {of['another']:7}")
    return "\n".join(lines)


if __name__ == "__main__":
    print(report(int(sys.argv[1]) if len(sys.argv) > 1 else 20))
