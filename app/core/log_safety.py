"""Logs hold no names: no value that somebody typed, no text of an error, no query of an address.

An error's own text may quote what stood in a field or in a row (a database tells the key that was taken), so a log
gets its kind and where it happened, and the text stays with the person who sees the page.
"""

from __future__ import annotations

import logging
import traceback
from collections.abc import Iterator

ROWS = "sqlalchemy.engine.Engine"
"""At its lowest level it writes out every row that is read."""

LOGGERS = ("fullcount", "uvicorn.error", "uvicorn.access", "asyncio", ROWS)
"""The loggers of this program and of its server that can be handed errors, addresses or rows."""


def chain_of(error: BaseException | None) -> Iterator[BaseException]:
    """The exception, and what it came of."""
    seen: set[int] = set()
    while error is not None and id(error) not in seen:
        seen.add(id(error))
        yield error
        error = error.__cause__ or (None if error.__suppress_context__ else error.__context__)


def bare_trace(error: BaseException) -> str:
    """Which errors led to which, and where in the program: without a word of their texts.

    Examples
    --------
    >>> try:
    ...     int("Ada Stone")
    ... except ValueError as error:
    ...     "Ada" in bare_trace(error)
    False
    """
    lines: list[str] = []
    for at in chain_of(error):
        if lines:
            lines.append("because of")
        lines.append(f"{type(at).__module__}.{type(at).__qualname__}")
        lines += [
            f"  {frame.filename}:{frame.lineno} in {frame.name}"
            for frame in traceback.extract_tb(at.__traceback__)
        ]
    return "\n".join(lines)


class WithoutValues(logging.Filter):
    """Takes the texts of errors and the queries of addresses out of a record, and rows out of the log."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Let every record pass without what may name somebody; rows of the database not at all."""
        if record.name == ROWS and str(record.msg).startswith("Row"):
            return False
        if record.exc_info and record.exc_info[1] is not None:
            record.exc_text = bare_trace(record.exc_info[1])
            # For formatters that tell its kind and place in their own way.
            record.error = record.exc_info[1]
            record.exc_info = None
        if record.name == "uvicorn.access" and isinstance(record.args, tuple):
            record.args = tuple(each.partition("?")[0] if isinstance(each, str) else each for each in record.args)
        return True


_FILTER = WithoutValues()


def keep_values_out_of_logs() -> None:
    """Put the filter before every logger that needs it; to do it twice does nothing more."""
    for name in LOGGERS:
        logging.getLogger(name).addFilter(_FILTER)
