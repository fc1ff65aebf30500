"""How long the audit with its plan takes, as a ratio to reading the same series from JSON.

Run by hand: ``.venv/bin/python -m tests.bench.bench_audit``. Aims: under 2 ms with no gap, under 20 ms with ten.
"""

from __future__ import annotations

import json
import statistics
import time
from collections.abc import Callable

from app.core.coverage import audit
from app.core.exposures import Exposure, Shortfall, ShortfallCode
from app.core.series import Series
from app.core.templates import Template
from app.exchange.series_file import read_series, write_series
from app.exchange.shared_data import builtin_templates, corrections


def milliseconds(job: Callable[[], object], repeats: int = 200) -> float:
    """Median time of one run."""
    job()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        job()
        times.append((time.perf_counter() - start) * 1000)
    return statistics.median(times)


def adult_series(template: Template, faults: dict[str, str]) -> Series:
    """Every required slot taken once, with the named faults."""
    return Series(
        template=template,
        exposures=tuple(
            Exposure(
                id=slot.id,
                slot=slot.id,
                reviewed=True,
                shortfalls=(Shortfall(code=ShortfallCode(faults[slot.id])),) if slot.id in faults else (),
            )
            for slot in template.required_slots
        ),
    )


TEN_GAPS = {"UR-molar": "apex_cut_off", "LL-canine": "blurred", "LR-canine": "apex_cut_off"}


def main() -> None:
    """Print a line for each case."""
    template = builtin_templates()["adult-18"]
    for title, faults in (("no gap", {}), ("about ten gaps", TEN_GAPS), ("every view blank", None)):
        chosen = {slot.id: "blank" for slot in template.required_slots} if faults is None else faults
        series = adult_series(template, chosen)
        text = json.dumps(write_series(series, template="adult-18"))
        reading = milliseconds(lambda text=text: read_series(json.loads(text), builtin_templates()))  # type: ignore[misc]
        auditing = milliseconds(lambda series=series: audit(series, corrections()))  # type: ignore[misc]
        gaps = len(audit(series).gaps)
        print(
            f"{title:<18} {gaps:3d} gaps: audit and plan {auditing:6.2f} ms, reading the file {reading:6.2f} ms, "
            f"ratio {auditing / reading:5.2f}"
        )


if __name__ == "__main__":
    main()
