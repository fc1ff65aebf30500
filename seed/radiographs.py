"""Makes the radiographs that the demo needs: ``python -m seed.radiographs``.

Run it after a change of the demo or of the simulator; it makes what is missing and drops what nobody asks for.
"""

from __future__ import annotations

import io
import tempfile
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from PIL import Image

from seed.demo import build
from seed.pictures import FOLDER, Request, simulated

WORKERS = 2


def wanted() -> list[Request]:
    """Every picture that building the demo asks for."""
    asked: list[Request] = []

    def stand_in(request: Request) -> bytes:
        asked.append(request)
        out = io.BytesIO()
        Image.new("L", (64, 64), request.number % 256).resize((64 + request.number // 256, 64)).save(out, "PNG")
        return out.getvalue()

    with tempfile.TemporaryDirectory() as folder:
        build(Path(folder), picture=stand_in)
    return asked


def make(request: Request) -> str:
    """Simulate one picture into the folder, unless it is there."""
    place = FOLDER / request.name()
    if not place.exists():
        place.write_bytes(simulated(request))
    return place.name


def main() -> None:
    """Make what is missing, drop what is left over."""
    FOLDER.mkdir(exist_ok=True)
    asked = wanted()
    with ProcessPoolExecutor(WORKERS) as pool:
        for number, _ in enumerate(pool.map(make, asked, chunksize=6), start=1):
            if number % 50 == 0:
                print(f"{number} of {len(asked)}", flush=True)
    names = {request.name() for request in asked}
    for file in FOLDER.glob("*.jpg"):
        if file.name not in names:
            file.unlink()
    print(f"{len(names)} radiographs, {sum(file.stat().st_size for file in FOLDER.glob('*.jpg')) / 1e6:.1f} MB")


if __name__ == "__main__":
    main()
