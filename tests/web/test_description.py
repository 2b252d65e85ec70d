"""Whatever the description of the interface allows, and much that it does not, is answered and never our fault.

More by hand: `BOOSTWRIGHT_API_EXAMPLES=400 pytest tests/web/test_description.py`.
"""

import os

import pytest
import schemathesis
from hypothesis import HealthCheck, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import response_schema_conformance

from boostwright.records.examples import copy_example
from boostwright.web.access import Access
from boostwright.web.app import create_app
from boostwright.web.description import description

EXAMPLES = int(os.environ.get("BOOSTWRIGHT_API_EXAMPLES", "8"))


PUBLISHED = ("/api/publish", "/api/report")


@pytest.fixture(scope="module")
def elbow(tmp_path_factory: pytest.TempPathFactory):
    return create_app(copy_example("inlet-elbow", tmp_path_factory.mktemp("described") / "elbow"), Access())


@pytest.fixture(scope="module")
def without_builds(tmp_path_factory: pytest.TempPathFactory):
    """The same pulls whose gain nobody explains: a report of them takes a tenth of the time."""
    place = copy_example("inlet-elbow", tmp_path_factory.mktemp("described") / "pulls")
    campaign = place / "campaign.toml"
    lines = campaign.read_text(encoding="utf-8").splitlines(keepends=True)
    campaign.write_text("".join(line for line in lines if not line.startswith("build =")), encoding="utf-8")
    return create_app(place, Access())


schema = schemathesis.openapi.from_dict(description())


@schema.parametrize()
@settings(
    max_examples=EXAMPLES,
    deadline=None,
    derandomize=True,
    suppress_health_check=[
        HealthCheck.too_slow,
        HealthCheck.filter_too_much,
        HealthCheck.data_too_large,
        HealthCheck.function_scoped_fixture,
    ],
)
def test_no_request_is_our_fault(case, elbow, without_builds):
    """No status of 500 and above, and a body as it is described."""
    app = without_builds if case.operation.path in PUBLISHED else elbow
    case.call_and_validate(
        base_url="http://127.0.0.1", app=app, timeout=120, checks=[not_a_server_error, response_schema_conformance]
    )
