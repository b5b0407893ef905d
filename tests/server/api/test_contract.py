"""The app against its own OpenAPI document: no 500, and nothing that the document does not say.

A longer run by hand, against a server on this machine:

    schemathesis run http://localhost:8080/api/v1/openapi.json --exclude-path-regex 'feed$'
"""

from collections.abc import Callable
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis.errors import Unsatisfiable
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.core.result import Ok
from schemathesis.specs.openapi import checks
from starlette.testclient import TestClient
from tests.kit.uplink.made_up import BAY_3

from drainscale_server.api.problems import MEDIA_TYPE

DOCUMENT = "/api/v1/openapi.json"
THERE = {"job": "j-1", "site": BAY_3.site, "bench": BAY_3.bench}
# what the document cannot say: what a job file's text has to hold, that one of two is needed,
# that no password is asked for on this machine
MAY_BE_REFUSED = {
    ("POST", "/api/v1/jobs"),
    ("GET", "/api/v1/planning"),
    ("POST", "/api/v1/session"),
}
ACCEPTED = checks.positive_data_acceptance
RIGHT = [
    not_a_server_error,
    checks.status_code_conformance,
    checks.content_type_conformance,
    checks.response_headers_conformance,
    checks.response_schema_conformance,
    checks.negative_data_rejection,
    checks.missing_required_header,
    checks.unsupported_method,
    checks.allow_header_conformance,
]
QUICK = settings(
    derandomize=True,
    database=None,
    deadline=None,
    phases=(Phase.explicit, Phase.generate),
    suppress_health_check=list(HealthCheck),
)


@pytest.fixture
def operations(client: TestClient, done_job: str) -> list[Any]:
    """All operations but the live feed, which never ends, and the slow printed record."""
    schema = schemathesis.openapi.from_dict(client.get(DOCUMENT).json())
    schema.config.update(base_url="http://localhost:8080")
    chosen = schema.exclude(path_regex=r"/feed$|\.pdf$").get_all_operations()
    found = [one.ok() for one in chosen if isinstance(one, Ok)]
    assert len(found) >= 24
    return found


def leave(_case: Any) -> None:
    """Ask as it was made up."""


def ask_for_what_is_there(case: Any) -> None:
    """Ask for the job and the bench that there are."""
    for name in case.path_parameters or {}:
        case.path_parameters[name] = THERE.get(name, case.path_parameters[name])


@pytest.mark.parametrize(
    ("mode", "change", "examples_n"),
    [
        (GenerationMode.POSITIVE, leave, 5),
        (GenerationMode.POSITIVE, ask_for_what_is_there, 5),
        (GenerationMode.NEGATIVE, ask_for_what_is_there, 1),
    ],
    ids=["rightly", "rightly, for what is there", "wrongly"],
)
def test_whatever_is_asked_is_answered_as_documented(
    mode: GenerationMode,
    change: Callable[[Any], None],
    examples_n: int,
    operations: list[Any],
    client: TestClient,
) -> None:
    asked = [one for one in operations if ask(one, mode, change, examples_n, client)]
    assert len(asked) >= 14  # what takes nothing cannot be asked wrongly


def ask(
    operation: Any,
    mode: GenerationMode,
    change: Callable[[Any], None],
    examples_n: int,
    client: TestClient,
) -> bool:
    @settings(QUICK, max_examples=examples_n)
    @given(case=operation.as_strategy(mode))
    def asked(case: Any) -> None:
        change(case)
        asking = case.as_transport_kwargs()
        if "data" in asking:
            asking["content"] = asking.pop("data")
        for unused in ("files", "cookies"):
            asking.pop(unused, None)
        may_be_refused = (case.method, case.path) in MAY_BE_REFUSED
        told = client.request(**asking)
        case.validate_response(told, checks=RIGHT if may_be_refused else [*RIGHT, ACCEPTED])

    try:
        asked()
    except Unsatisfiable:
        return False
    return True


def test_the_document_promises_no_kind_of_content_that_is_not_given(client: TestClient) -> None:
    document = client.get(DOCUMENT).json()
    for path, methods in document["paths"].items():
        for method, told in methods.items():
            for status, answer in told["responses"].items():
                kinds = list(answer["content"])
                assert len(kinds) == 1, (method, path, status)
                is_problem = status == "default" or status.startswith("4")
                assert (kinds == [MEDIA_TYPE]) == is_problem, (method, path, status)
