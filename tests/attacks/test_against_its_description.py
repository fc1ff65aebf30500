"""The JSON side keeps to its own description, whatever is sent: tried by schemathesis on the running program."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from schemathesis import Case, GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    ignored_auth,
    negative_data_rejection,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
    unsupported_method,
)

from tests.attacks.real_server import RealServer, real_server
from tests.people import founded, hash_lightly

EXAMPLES = int(os.environ.get("LONG_FUZZING", "15"))
"""Cases an operation; more for a long run by hand, like LONG_FUZZING=5000."""

CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    negative_data_rejection,
    unsupported_method,
    ignored_auth,
]
"""All but that data of the right shape must be accepted: whether a series makes sense, its shape cannot say."""


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RealServer]:
    """A server on the cast's practice."""
    folder: Path = tmp_path_factory.mktemp("described")
    with pytest.MonkeyPatch.context() as patch:
        hash_lightly(patch)
        founded(folder / "data").store.close()
    with real_server(folder / "data") as running:
        yield running


@pytest.fixture(scope="module")
def described(server: RealServer) -> schemathesis.BaseSchema:
    """Its description, as it gives it."""
    return schemathesis.openapi.from_url(f"{server.address}/openapi.json")


OPERATIONS = ("POST /api/audit", "GET /ready", "GET /health")


def test_every_operation_is_tried(described: schemathesis.BaseSchema) -> None:
    found = [each.ok() for each in described.get_all_operations()]

    assert sorted(each.label for each in found if each is not None) == sorted(OPERATIONS)


@pytest.mark.parametrize("mode", list(GenerationMode))
@pytest.mark.parametrize("label", OPERATIONS)
def test_every_operation_answers_as_described(
    described: schemathesis.BaseSchema, label: str, mode: GenerationMode
) -> None:
    """With data of the shape described, and with data that is not."""
    operation = described.find_operation_by_label(label)
    assert operation is not None
    if mode is GenerationMode.NEGATIVE and operation.method != "post":
        # Nothing is sent that could be of the wrong shape.
        mode = GenerationMode.POSITIVE

    @settings(
        max_examples=EXAMPLES,
        derandomize=True,
        database=None,
        deadline=None,
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy(generation_mode=mode))
    def answers_as_described(case: Case) -> None:
        case.validate_response(case.call(timeout=60), checks=CHECKS)

    answers_as_described()


def test_nothing_failed_inside(server: RealServer) -> None:
    """Runs last in this file: none of the requests left a failure in the log."""
    assert [line for line in server.lines() if line["level"] in ("error", "warning")] == []
