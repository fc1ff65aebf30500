"""``audit FILE``: a series file in (``-`` for standard input), its audit out."""

from __future__ import annotations

import argparse
import json

from app.cli.files import read_bytes
from app.core.coverage import audit
from app.exchange.audit_report import audit_report
from app.exchange.json_text import read_json
from app.exchange.series_file import read_series
from app.exchange.shared_data import builtin_templates, corrections


def run(arguments: list[str]) -> int:
    """0 where the series is complete, 1 where it is not."""
    parser = argparse.ArgumentParser(
        prog="python -m app audit", description="Answers the audit of a series file as JSON."
    )
    parser.add_argument("file", metavar="FILE", help="a series file; - for standard input")
    options = parser.parse_args(arguments)
    name = "standard input" if options.file == "-" else options.file
    series = read_series(read_json(read_bytes(options.file), name), builtin_templates())
    answer = audit(series, corrections())
    print(json.dumps(audit_report(answer), ensure_ascii=False, indent=1))
    return 0 if answer.verdict == "complete" else 1
