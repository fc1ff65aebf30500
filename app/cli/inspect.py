"""``inspect FILE…``: what each image says of itself, one JSON object a line, in the order of the files."""

from __future__ import annotations

import argparse
import json
import os
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Any

from app.cli.files import read_bytes
from app.core.errors import FullcountError, InputError
from app.imaging.decode import ImageLimits, Radiograph, read_radiograph
from app.imaging.duplicates import duplicate_of
from app.imaging.errors import ImageRefused
from app.imaging.finding import Finding, FindingCode, Severity
from app.imaging.findings import Inspection, inspect_radiograph
from app.imaging.likeness import Sketch, sketch_of
from app.imaging.thresholds import usual_thresholds

FORMAT = "fullcount-inspect/1"
FORMAT_CODES = frozenset(
    {
        FindingCode.BLANK,
        FindingCode.TOO_LIGHT,
        FindingCode.TOO_DARK,
        FindingCode.LOW_CONTRAST,
        FindingCode.BLURRED,
        FindingCode.NOISY,
        FindingCode.CONE_CUT,
        FindingCode.ORIENTATION_MISMATCH,
        FindingCode.DUPLICATE,
        FindingCode.BORDERED,
        FindingCode.NOT_A_RADIOGRAPH,
    }
)
"""The codes that readers of the format know; whatever else is found stands among the measurements."""
LIMITS = ImageLimits(min_side=8)
"""Icons are read here, so that they can be told to be no radiographs."""


@dataclass(frozen=True, kw_only=True)
class _Seen:
    """An inspected file, without its pixels."""

    radiograph: Radiograph
    inspection: Inspection
    sketch: Sketch


def run(arguments: list[str]) -> int:
    """0 where nothing grave was found, 1 where something was, 2 where a file could not be read."""
    parser = argparse.ArgumentParser(
        prog="python -m app inspect",
        description="Measures radiographs and tells what it finds, one JSON object a line.",
    )
    parser.add_argument("files", metavar="FILE", nargs="+", help="JPEG, PNG, TIFF or BMP; - for standard input")
    parser.add_argument(
        "--slot-orientation",
        choices=("portrait", "landscape"),
        help="how the receptor lies in the slot that the images are meant for",
    )
    options = parser.parse_args(arguments)
    status = 0
    earlier: list[tuple[str, Sketch]] = []
    for name, seen in _looked_at(options.files, options.slot_orientation):
        if isinstance(seen, FullcountError):
            print(json.dumps({"format": FORMAT, "file": name, "error": str(seen)}, ensure_ascii=False), flush=True)
            status = 2
            continue
        copy = duplicate_of(seen.sketch, earlier, usual_thresholds())
        earlier.append((name, seen.sketch))
        findings = ([copy] if copy else []) + list(seen.inspection.findings)
        if status == 0 and any(each.severity is Severity.FAIL for each in findings):
            status = 1
        print(
            json.dumps(inspection_line(name, seen.radiograph, seen.inspection, findings), ensure_ascii=False),
            flush=True,
        )
    return status


def inspection_line(
    name: str, radiograph: Radiograph, inspection: Inspection, findings: list[Finding]
) -> dict[str, Any]:
    """One file's line of the inspection format."""
    return {
        "format": FORMAT,
        "file": name,
        "width": radiograph.width,
        "height": radiograph.height,
        "bits": radiograph.bits,
        "orientation": inspection.orientation,
        "sha256": radiograph.sha256,
        "measurements": inspection.measurements | _seen_besides(findings),
        "findings": [_finding(each) for each in findings if each.code in FORMAT_CODES],
    }


def _seen_besides(findings: list[Finding]) -> dict[str, float]:
    """What was found beyond the format's codes, as measurements: ``seen_lines`` with the highest score."""
    besides: dict[str, float] = {}
    for each in findings:
        if each.code not in FORMAT_CODES:
            name = f"seen_{each.code.value}"
            besides[name] = round(max(besides.get(name, 0.0), each.score), 4)
    return besides


def _finding(finding: Finding) -> dict[str, Any]:
    told: dict[str, Any] = {
        "code": finding.code.value,
        "severity": finding.severity.value,
        "score": round(finding.score, 4),
        "box": None if finding.box is None else list(finding.box),
        "message": finding.message,
    }
    if finding.of is not None:
        told |= {"of": finding.of, "transform": finding.transform}
    return told


def _looked_at(names: list[str], slot_orientation: str | None) -> Iterator[tuple[str, _Seen | FullcountError]]:
    """Every file inspected or the reason why not, in order, on all cores; a few files ahead of the reader."""

    def look(name: str) -> _Seen | FullcountError:
        try:
            radiograph = read_radiograph(read_bytes(name), name=name, limits=LIMITS, allow_colour=True)
        except (ImageRefused, InputError) as error:
            return error
        inspection = inspect_radiograph(radiograph, slot_orientation=slot_orientation)
        # The pixels have said what they had to say; a call with many files must not keep them all.
        light = replace(radiograph, grey=radiograph.grey[:1, :1].copy())
        return _Seen(radiograph=light, inspection=inspection, sketch=sketch_of(radiograph))

    cores = os.cpu_count() or 1
    with ThreadPoolExecutor(max_workers=cores) as pool:
        for start in range(0, len(names), 4 * cores):
            part = names[start : start + 4 * cores]
            yield from zip(part, pool.map(look, part), strict=True)
