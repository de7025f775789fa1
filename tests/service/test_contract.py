"""What the service does is what its OpenAPI document says, for requests that nobody thought of.

schemathesis draws them from the document; `HEELDEPTH_TEST_EXAMPLES` sets how many an operation.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
import schemathesis
from schemathesis.config import SchemathesisConfig
from schemathesis.engine import from_schema
from schemathesis.engine.events import NonFatalError, ScenarioFinished

from seed_demo.server import HOST, running

EXAMPLES = int(os.environ.get("HEELDEPTH_TEST_EXAMPLES", "25"))

# What a schema cannot say of a body is a 422: stitches that do not come out, a foot both given and
# named, a day in the future. 401 is for a drawn `Authorization`.
ALSO_RIGHT = ["2xx", "304", "401", "403", "404", "409", "422"]
OF_HEADERS = ["400", "401", "403", "406", "415", "422", "428"]


def settings(world: Any, *, thorough: bool) -> dict[str, Any]:
    """Return a steward's token and things that exist for every path; what is deleted is its own."""
    steward = world.mine.steward
    ids = {"group_id": steward.group_id, **world.things(steward)}
    doomed = {f"path.{name}": one for name, one in world.things(steward).items()}
    return {
        "auth": {"openapi": {"token": {"bearer": steward.token}}},
        "parameters": {f"path.{name}": one for name, one in ids.items()} | {"header.If-Match": "*"},
        # What another branch of a stateful run deleted is missed as if it had never been made.
        "operations": [
            {
                "include-method": "DELETE",
                "parameters": doomed,
                "phases": {"stateful": {"enabled": False}},
            }
        ],
        # A plan for sixty sizes takes seconds, and this machine may have other work.
        "request-timeout": 60,
        "generation": {"max-examples": EXAMPLES, "deterministic": True},
        "checks": {
            "positive_data_acceptance": {"expected-statuses": ALSO_RIGHT},
            "missing_required_header": {"expected-statuses": OF_HEADERS},
        },
        "phases": {"coverage": {"enabled": thorough}, "stateful": {"enabled": thorough}},
        "continue-on-failure": True,
    }


@contextmanager
def scenarios(world: Any, *, thorough: bool = True) -> Iterator[Any]:
    """Serve the application on loopback and yield what happens when requests are drawn for it."""
    config = SchemathesisConfig.from_dict(settings(world, thorough=thorough))
    with running(world.app.config["HEELDEPTH"]) as port:
        address = f"http://{HOST}:{port}/openapi.json"
        yield from_schema(schemathesis.openapi.from_url(address, config=config)).execute()


def failures(event: ScenarioFinished) -> Iterator[str]:
    """Yield what went wrong in a scenario, each with a request that shows it."""
    for checks in event.recorder.checks.values():
        for check in checks:
            if check.failure_info is not None:
                shown = check.failure_info
                yield f"{event.label}: {check.name}: {shown.failure}\n{shown.code_sample}"


# With many examples Hypothesis draws bodies that it warns of itself.
@pytest.mark.filterwarnings("ignore:Generating overly large repr")
def test_every_operation_answers_as_documented(
    world: Any, backend: str, record_property: Any, caplog: pytest.LogCaptureFixture
) -> None:
    """Systematically on SQLite; what is drawn at random on both."""
    thorough = backend == "sqlite"
    wrong: list[str] = []
    sent: Counter[str] = Counter()
    with scenarios(world, thorough=thorough) as events:
        for event in events:
            if isinstance(event, ScenarioFinished):
                wrong += failures(event)
                sent[event.phase.value] += len(event.recorder.interactions)
            elif isinstance(event, NonFatalError):
                wrong.append(str(event.info))
    record_property("sent", dict(sent))
    assert wrong == [], f"{len(wrong)} failures in {dict(sent)}"
    phases = ("coverage", "fuzzing", "stateful") if thorough else ("fuzzing",)
    assert min(sent[phase] for phase in phases) > EXAMPLES
    assert "Traceback" not in caplog.text
