"""``template check FILE|ID``: which targets each slot covers, how often each is covered, and which are not."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from app.cli.files import read_bytes
from app.core.dentition import DENTITION_KINDS
from app.core.errors import InputError, did_you_mean
from app.core.numbering import Numbering
from app.core.targets import label
from app.core.template_check import check_template
from app.core.templates import Template
from app.exchange.json_text import read_json
from app.exchange.shared_data import builtin_templates
from app.exchange.template_file import read_template

CHECK_FORMAT = "fullcount-template-check/1"


def run(arguments: list[str]) -> int:
    """0 where the series covers a full dentition, 1 where targets are left."""
    parser = argparse.ArgumentParser(
        prog="python -m app template",
        description="Tells which targets each slot of a template covers, how often, and which are not.",
    )
    commands = parser.add_subparsers(dest="command", required=True)
    check = commands.add_parser("check", help="check a template file, or a built-in template by its id")
    check.add_argument("template", metavar="FILE|ID", help="a template as JSON (- for standard input), or an id")
    check.add_argument(
        "--dentition",
        choices=DENTITION_KINDS,
        help="the dentition to check against; without it, the one that the template fits best",
    )
    options = parser.parse_args(arguments)
    template = _template(options.template)
    found = check_template(template, options.dentition)
    print(
        json.dumps(
            {
                "format": CHECK_FORMAT,
                "template": template.id,
                "dentition_kind": found.dentition_kind,
                "slots": [
                    {"slot": slot.id, "required": slot.required, "covers": list(found.covers[slot.id])}
                    for slot in template.slots
                ],
                "times_covered": found.times,
                "not_covered": [
                    {
                        "target": target,
                        "label": label(target, Numbering.ISO3950),
                        "on_supplementary": target in found.supplementary_only,
                    }
                    for target in found.not_covered
                ],
                "ridges_not_covered": list(found.ridges_not_covered),
            },
            ensure_ascii=False,
            indent=1,
        )
    )
    return 1 if found.not_covered else 0


def _template(name: str) -> Template:
    builtin = builtin_templates()
    if name in builtin:
        return builtin[name]
    if name != "-" and not Path(name).exists():
        raise InputError(
            name,
            f"neither a file nor a built-in template. Name a file, or one of {', '.join(builtin)}."
            + did_you_mean(name, builtin),
        )
    return read_template(read_json(read_bytes(name), name if name != "-" else "standard input"))
