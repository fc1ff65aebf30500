"""``config``: the settings in force, as TOML, each with where it came from."""

from __future__ import annotations

import argparse
import sys

from app.cli.settings_in_force import as_toml, contradictions, example, settings_in_force


def run(arguments: list[str]) -> int:
    """Print them; 0 where they agree, 1 where some contradict each other (told on standard error)."""
    parser = argparse.ArgumentParser(prog="python -m app config", description="Shows the settings in force.")
    parser.add_argument("--config", metavar="FILE", help="TOML file with settings; else FULLCOUNT_CONFIG names it")
    parser.add_argument("--example", action="store_true", help="a commented file with every default instead")
    options = parser.parse_args(arguments)
    if options.example:
        print(example(), end="")
        return 0
    found = settings_in_force(config=options.config)
    print(as_toml(found), end="")
    told = contradictions(found.settings)
    for each in told:
        print(f"warning: {each}.", file=sys.stderr)
    return 1 if told else 0
