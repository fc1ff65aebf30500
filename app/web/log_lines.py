"""The lines of the log, on standard error: for people, or one JSON object each.

A line never holds a name, a chart number, a file's name or an address with its query. Messages of our own and of
the server are written by us and hold none. Those of other libraries, and the words of exceptions, may hold what
was typed: of these a line has only the kind, and where it happened. Control characters are escaped, so that
whatever is logged stays one line.
"""

from __future__ import annotations

import json
import logging
import sys
import threading
from datetime import UTC, datetime
from pathlib import Path
from traceback import walk_tb
from types import TracebackType
from typing import Any

from app.core.log_safety import chain_of
from app.settings import Settings
from app.web.request_id import REQUEST_ID

OURS = ("fullcount", "uvicorn")
"""Loggers whose words are known to hold nothing about anybody."""

FACTS = ("method", "route", "status", "duration_ms", "staff_id")
"""What a line about a request has besides, in order."""

ROOT = Path(__file__).resolve().parents[2]
FRAMES = 30
"""Of an exception, the innermost."""


def facts_of(record: logging.LogRecord) -> dict[str, Any]:
    """Everything that a line says, in order; what is not known is left out."""
    ours = record.name.split(".")[0] in OURS
    facts: dict[str, Any] = {
        "moment": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
        "level": record.levelname.lower(),
        "source": record.name,
        "message": record.getMessage().strip()
        if ours
        else f"words of a library, not shown ({record.module}:{record.lineno})",
    }
    if request_id := getattr(record, "request_id", "") or REQUEST_ID.get():
        facts["request_id"] = request_id
    facts |= {name: value for name in FACTS if (value := getattr(record, name, None)) is not None}
    if (error := error_of(record)) is not None:
        facts["exceptions"] = [
            {"kind": type(each).__qualname__, "at": places(each.__traceback__)} for each in chain_of(error)
        ]
    return facts


def error_of(record: logging.LogRecord) -> BaseException | None:
    """The exception that a record tells of, whether or not its text was taken out before (`log_safety`)."""
    if record.exc_info:
        return record.exc_info[1]
    kept: BaseException | None = getattr(record, "error", None)
    return kept


def places(traceback: TracebackType | None) -> list[str]:
    """Where an exception came through, innermost last: file, line and function, no words."""
    found = []
    for frame, line in walk_tb(traceback):
        file = Path(frame.f_code.co_filename)
        shown = file.relative_to(ROOT) if file.is_relative_to(ROOT) else Path(*file.parts[-2:])
        found.append(f"{shown}:{line} {frame.f_code.co_name}")
    return found[-FRAMES:]


def one_line(text: str) -> str:
    """The text with everything escaped that could begin a new line or steer a terminal."""
    return "".join(each if each.isprintable() else each.encode("unicode_escape").decode() for each in text)


class JsonLines(logging.Formatter):
    """One JSON object a line, in ASCII."""

    def format(self, record: logging.LogRecord) -> str:
        """The line of a record."""
        return json.dumps(facts_of(record), default=str)


class TextLines(logging.Formatter):
    """The same for people: moment, level, message, then what else is known."""

    def format(self, record: logging.LogRecord) -> str:
        """The line of a record."""
        facts = facts_of(record)
        head = f"{facts.pop('moment')} {facts.pop('level').upper():<7} {facts.pop('message')}"
        facts.pop("source")
        exceptions = facts.pop("exceptions", [])
        more = [f"{name}={value}" for name, value in facts.items()]
        more += [f"{each['kind']} at {' < '.join(reversed(each['at']))}" for each in exceptions]
        return one_line(" ".join([head, *more]))


class _NotToldTwice(logging.Filter):
    """The server tells each failure once more that we have told already, with less about it."""

    def filter(self, record: logging.LogRecord) -> bool:
        error = error_of(record)
        return not (record.name == "uvicorn.error" and getattr(error, "told_in_log", False))


def install_log(settings: Settings) -> None:
    """Have everything that is logged in this process written to standard error as the settings say."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(JsonLines() if settings.log_format == "json" else TextLines())
    handler.addFilter(_NotToldTwice())
    root = logging.getLogger()
    root.handlers = [handler]
    wanted = logging.getLevelNamesMapping()[settings.log_level.upper()]
    # Libraries are heard when something is wrong; their lesser words say nothing without their content.
    root.setLevel(max(wanted, logging.WARNING))
    for name in OURS:
        logging.getLogger(name).setLevel(wanted)
    logging.getLogger("uvicorn.error").setLevel(wanted)
    logging.captureWarnings(True)
    threading.excepthook = _thread_failed


def _thread_failed(failed: threading.ExceptHookArgs) -> None:
    error = failed.exc_value
    logging.getLogger("fullcount").error(
        "a thread failed", exc_info=(type(error), error, failed.exc_traceback) if error is not None else None
    )
