"""The published rules of how long records are kept, from ``shared/guidance/retention``."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from app.core.retention import RetentionRule
from app.exchange.fields import Fields
from app.exchange.json_text import read_json

RULES = Path(__file__).resolve().parents[2] / "shared" / "guidance" / "retention" / "rules.json"
KEYS = ("key", "title", "years_after_last", "until_age", "jurisdiction", "body", "from", "source", "status")


@lru_cache(maxsize=1)
def published_rules() -> dict[str, RetentionRule]:
    """The rules by their keys, in the file's order."""
    fields = Fields(read_json(RULES.read_bytes(), RULES.name), "", ("about", "rules"))
    rules = (_rule(Fields(member, path, KEYS)) for path, member in fields.items("rules"))
    return {rule.key: rule for rule in rules}


def _rule(fields: Fields) -> RetentionRule:
    years, age = fields.raw("years_after_last"), fields.raw("until_age")
    assert isinstance(years, int)
    assert isinstance(age, int)
    return RetentionRule(
        key=str(fields.raw("key")),
        title=str(fields.raw("title")),
        years_after_last=years,
        until_age=age,
        jurisdiction=str(fields.raw("jurisdiction")),
        body=str(fields.raw("body")),
        from_day=str(fields.raw("from")),
        source=str(fields.raw("source")),
        status=str(fields.raw("status")),
    )
