"""Whatever JSON comes in, a series is read or refused with a sentence; nothing else escapes."""

from __future__ import annotations

import copy
from contextlib import suppress
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.coverage import audit
from app.core.errors import InputError
from app.exchange.audit_report import audit_report
from app.exchange.series_file import EXPOSURE_KEYS, SERIES_KEYS, read_series
from app.exchange.shared_data import builtin_templates
from app.exchange.template_file import SLOT_KEYS, TEMPLATE_KEYS
from tests.exchange.test_series_file import GOOD

WORDS = [
    *SERIES_KEYS,
    *EXPOSURE_KEYS,
    *SLOT_KEYS,
    *TEMPLATE_KEYS,
    "code",
    "targets",
    "fullcount-series/1",
    "adult-18",
]
WORDS += ["UR-molar", "overlap", "crown:16", "apex:16:*", "contact:17-16", "16", "55", "missing", "R", "mixed", ""]
leaves = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), st.sampled_from(WORDS), st.text(max_size=4)
)
values = st.recursive(
    leaves,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(WORDS), inner, max_size=4),
    max_leaves=12,
)


def places(value: Any, here: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every place inside a JSON value."""
    below = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [here, *(place for key, member in below for place in places(member, (*here, key)))]


@settings(max_examples=600, deadline=None)
@given(st.sampled_from(places(GOOD)[1:]), values)
def test_any_value_in_any_field_is_read_or_refused_with_its_path(place: tuple[Any, ...], value: Any) -> None:
    data = copy.deepcopy(GOOD)
    inside: Any = data
    for step in place[:-1]:
        inside = inside[step]
    inside[place[-1]] = value

    with suppress(InputError):
        report = audit_report(audit(read_series(data, builtin_templates())))

        assert report["counts"]["asked"] == report["counts"]["covered"] + report["counts"]["gaps"]
