"""How long one image takes to measure, as a ratio to decoding the same file.

Run by hand: ``.venv/bin/python -m tests.bench.bench_inspect``. Aim: at most 3 for 1300 pixels of width. The
baseline is the whole of reading a file (decode, colour check, SHA-256) in the same run. JPEG decodes five times as
fast as PNG, so its ratio is the hard one; both stand side by side.
"""

from __future__ import annotations

import numpy as np

from app.cli.simulate import usual_dentition
from app.exchange.shared_data import builtin_templates
from app.imaging.decode import read_radiograph
from app.imaging.findings import inspect_radiograph
from app.imaging.likeness import sketch_of
from app.imaging.simulator import SlotPose, TechniqueErrors, expose, grown_mouth
from app.imaging.simulator.picture import FileFormat, Picture, file_bytes
from tests.bench.bench_audit import milliseconds

CASES: tuple[tuple[str, FileFormat, int], ...] = (
    ("JPEG, 8 bits", "JPEG", 8),
    ("PNG, 8 bits", "PNG", 8),
    ("TIFF, 8 bits", "TIFF", 8),
    ("PNG, 12 in 16 bits", "PNG", 12),
)
FAULTS = {
    "nothing wrong": TechniqueErrors(),
    "collimator 15 mm off": TechniqueErrors(collimator_offset_mm=(15.0, 2.0)),
}


def main() -> None:
    """Print a line for each file."""
    template = builtin_templates()["adult-18"]
    mouth = grown_mouth(usual_dentition(template), 1)
    slot = next(each for each in template.slots if each.id == "BW-R-premolar")
    for fault, errors in FAULTS.items():
        levels = expose(SlotPose.of(slot), mouth, seed=2, width=1300, errors=errors).pixels
        for title, form, bits in CASES:
            pixels = levels if bits == 8 else np.asarray(levels.astype(np.uint16) * 16, dtype=np.uint16)
            data = file_bytes(Picture(pixels=pixels, bits=bits), form)
            read = read_radiograph(data, name=title)
            decoding = milliseconds(lambda data=data: read_radiograph(data, name="a"), 40)  # type: ignore[misc]
            measuring = milliseconds(lambda read=read: inspect_radiograph(read), 40)  # type: ignore[misc]
            likening = milliseconds(lambda read=read: sketch_of(read), 40)  # type: ignore[misc]
            print(
                f"{fault:<21} {title:<19} {read.width}x{read.height}: decode {decoding:6.2f} ms, "
                f"measure {measuring:6.2f} ms, ratio {measuring / decoding:5.2f}; "
                f"sketch for likeness {likening:5.2f} ms, ratio {likening / decoding:5.2f}"
            )


if __name__ == "__main__":
    main()
