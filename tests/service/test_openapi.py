"""The OpenAPI document."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from openapi_spec_validator import OpenAPIV31SpecValidator

from models.domain.foot import MEASUREMENTS
from models.domain.reports import SOCK
from models.domain.roles import ALLOWED, Action
from service import pages

# What DESIGN promises over HTTP and exists by now.
PROMISED = {
    ("get", "/v1/yarn-weights"),
    ("post", "/v1/schedules"),
    ("post", "/v1/groups"),
    ("get", "/v1/groups"),
    ("get", "/v1/groups/{group_id}"),
    ("get", "/v1/groups/{group_id}/feet"),
    ("post", "/v1/groups/{group_id}/feet"),
    ("get", "/v1/groups/{group_id}/feet/{foot_id}"),
    ("get", "/v1/groups/{group_id}/reports"),
    ("post", "/v1/groups/{group_id}/reports"),
    ("get", "/v1/groups/{group_id}/reports/{report_id}"),
    ("patch", "/v1/groups/{group_id}/reports/{report_id}"),
    ("delete", "/v1/groups/{group_id}/reports/{report_id}"),
    ("get", "/v1/groups/{group_id}/calibrations"),
    ("post", "/v1/groups/{group_id}/calibrations"),
    ("get", "/v1/groups/{group_id}/calibrations/{calibration_id}"),
    ("post", "/v1/groups/{group_id}/calibrations/{calibration_id}/activation"),
    ("get", "/v1/groups/{group_id}/calibrations/{calibration_id}/outcomes"),
    ("get", "/v1/groups/{group_id}/reviews"),
    ("get", "/v1/groups/{group_id}/reports/{report_id}/reviews"),
    ("post", "/v1/groups/{group_id}/reports/{report_id}/reviews"),
    ("get", "/v1/groups/{group_id}/calibrations/{calibration_id}/card"),
    ("post", "/v1/groups/{group_id}/rollbacks"),
    ("get", "/v1/groups/{group_id}/wider-pool"),
    ("post", "/v1/groups/{group_id}/wider-pool/contribution"),
    ("delete", "/v1/groups/{group_id}/wider-pool/contribution"),
    ("post", "/v1/groups/{group_id}/wider-pool/use"),
    ("delete", "/v1/groups/{group_id}/wider-pool/use"),
    ("get", "/v1/groups/{group_id}/wider-pool/summaries"),
    ("post", "/v1/groups/{group_id}/wider-pool/summaries"),
    ("delete", "/v1/groups/{group_id}/wider-pool/summaries/{summary_id}"),
    ("post", "/v1/groups/{group_id}/suggestions"),
    ("get", "/v1/groups/{group_id}/suggestions/{suggestion_id}"),
    ("get", "/v1/groups/{group_id}/designs"),
    ("post", "/v1/groups/{group_id}/designs"),
    ("get", "/v1/groups/{group_id}/designs/{design_id}"),
    ("get", "/v1/groups/{group_id}/designs/{design_id}/sizes"),
    ("post", "/v1/groups/{group_id}/designs/{design_id}/sizes"),
    ("patch", "/v1/groups/{group_id}/designs/{design_id}/sizes/{size_id}"),
    ("get", "/v1/groups/{group_id}/designs/{design_id}/defaults"),
    ("post", "/v1/groups/{group_id}/designs/{design_id}/adoptions"),
    ("post", "/v1/groups/{group_id}/designs/{design_id}/adoptions/{adoption_id}/reversal"),
    ("get", "/v1/groups/{group_id}/designs/{design_id}/effects"),
    ("get", "/v1/groups/{group_id}/designs/{design_id}/pattern-table"),
    ("get", "/v1/groups/{group_id}/designs/{design_id}/size-table"),
    ("post", "/v1/groups/{group_id}/designs/{design_id}/size-table"),
    ("get", "/v1/groups/{group_id}/designs/{design_id}/test-knit-plan"),
    ("post", "/v1/groups/{group_id}/invitations"),
    ("post", "/v1/invitations/{code}/acceptance"),
    ("get", "/v1/groups/{group_id}/members"),
    ("get", "/v1/me"),
    ("delete", "/v1/me"),
    ("delete", "/v1/me/places/{place_id}"),
    ("delete", "/v1/groups/{group_id}/reporters/{reporter_id}"),
    ("get", "/v1/import-template"),
    ("post", "/v1/groups/{group_id}/imports"),
    ("get", "/v1/groups/{group_id}/exports"),
    ("post", "/v1/groups/{group_id}/exports"),
    ("get", "/v1/groups/{group_id}/jobs"),
    ("get", "/v1/groups/{group_id}/jobs/{job_id}"),
    ("get", "/v1/groups/{group_id}/jobs/{job_id}/file"),
    ("post", "/v1/groups/{group_id}/jobs/{job_id}/cancellation"),
    ("get", "/healthz"),
    ("get", "/readyz"),
}
OPEN = {
    ("get", "/v1/yarn-weights"),
    ("get", "/v1/consent"),
    ("get", "/v1/import-template"),
    ("get", "/healthz"),
    ("get", "/readyz"),
    ("post", "/v1/schedules"),
    ("post", "/v1/accounts/password"),
    ("post", "/v1/sessions"),
    ("delete", "/v1/sessions"),
}
COUNTED = {
    ("post", "/v1/groups"),
    ("post", "/v1/groups/{group_id}/reports"),
    ("post", "/v1/groups/{group_id}/imports"),
    ("get", "/v1/groups/{group_id}/exports"),
    ("post", "/v1/groups/{group_id}/exports"),
    ("post", "/v1/invitations/{code}/acceptance"),
    ("post", "/v1/accounts/password"),
    ("post", "/v1/sessions"),
    ("post", "/v1/accounts"),
    ("post", "/v1/tokens"),
    ("delete", "/v1/me"),
    ("delete", "/v1/me/places/{place_id}"),
}
SECRET = {  # their answers are shown once and never kept, so they take no key
    "/v1/groups/{group_id}/invitations",
    "/v1/groups/{group_id}/members/{member_id}/password-reset",
    "/v1/invitations/{code}/acceptance",
    "/v1/tokens",
    "/v1/accounts",
    "/v1/accounts/password",
    "/v1/sessions",
}


@pytest.fixture(scope="module")
def document(lasting: Any) -> dict[str, Any]:
    answer = lasting.client.get("/openapi.json")
    assert answer.status_code == 200
    return dict(answer.json)


def operations(document: dict[str, Any]) -> Iterator[tuple[tuple[str, str], dict[str, Any]]]:
    for path, item in document["paths"].items():
        for method, told in item.items():
            if method != "parameters":
                yield (method, path), told


def test_the_document_is_valid_openapi_3_1(document: dict[str, Any]) -> None:
    assert re.fullmatch(r"3\.1\.\d+", document["openapi"])
    assert [error.message for error in OpenAPIV31SpecValidator(document).iter_errors()] == []


def test_everything_promised_is_there(document: dict[str, Any]) -> None:
    assert {key for key, _ in operations(document)} >= PROMISED


def test_the_document_holds_every_rule_of_the_application(
    lasting: Any, document: dict[str, Any]
) -> None:
    undocumented = {"/openapi.json", "/docs", "/docs.css"}
    for_people = {blueprint.name for blueprint in pages.BLUEPRINTS}
    for rule in lasting.app.url_map.iter_rules():
        path = re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", rule.rule)
        if path not in undocumented and rule.endpoint.partition(".")[0] not in for_people:
            for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}:
                assert method.lower() in document["paths"][path]


def test_every_operation_declares_its_action_or_that_it_is_open(document: dict[str, Any]) -> None:
    schemes = document["components"]["securitySchemes"]
    assert schemes["token"]["scheme"] == "bearer"
    assert (schemes["session"]["in"], schemes["session"]["name"]) == ("cookie", "__Host-heeldepth")
    assert document["security"] == [{"token": []}, {"session": [], "csrf": []}]
    shown = {key for key, told in operations(document) if told.get("security") == []}
    assert shown == OPEN
    undeclared = {key for key, told in operations(document) if "x-action" not in told}
    assert undeclared == OPEN, "declare it: @needs(Action. ...) or @open_to_everybody"


def test_every_operation_says_who_may_ask_as_the_role_table_does(document: dict[str, Any]) -> None:
    seen = set()
    for key, told in operations(document):
        if key not in OPEN:
            action = Action[told["x-action"].upper()]
            rule = ALLOWED[action]
            seen.add(action)
            assert set(told["x-roles"]) == {role.value for role in rule.roles}
            assert set(told["x-scopes"]) == {scope.value for scope in rule.scopes}
            assert told["description"].endswith(f"token: {', '.join(told['x-scopes'])}.")
            if "{group_id}" in key[1]:
                assert f"Who may: {', '.join(told['x-roles'])}." in told["description"]
    assert seen == set(Action)


def test_only_founding_and_joining_take_people_without_a_token(document: dict[str, Any]) -> None:
    open_too = {key for key, told in operations(document) if {} in told.get("security", [])}
    assert open_too == {
        ("post", "/v1/groups"),
        ("post", "/v1/invitations/{code}/acceptance"),
    }


def test_what_is_counted_documents_its_429_with_retry_after(document: dict[str, Any]) -> None:
    counted = {key: told for key, told in operations(document) if "x-limit" in told}
    assert set(counted) == COUNTED
    for told in counted.values():
        answer = _resolved(document, told["responses"]["429"])
        assert "Retry-After" in answer["headers"]


def test_every_error_of_every_operation_is_documented_as_a_problem(
    document: dict[str, Any],
) -> None:
    for key, told in operations(document):
        assert "default" in told["responses"], key
        for code, response in told["responses"].items():
            if code == "default" or int(code) in {*range(400, 503), *range(504, 600)}:
                found = _resolved(document, response)["content"]
                schema = found["application/problem+json"]["schema"]
                assert schema["$ref"].endswith("/Problem"), (key, code)


def _resolved(document: dict[str, Any], part: dict[str, Any]) -> dict[str, Any]:
    found: Any = part
    if "$ref" in part:
        found = document
        for step in part["$ref"].removeprefix("#/").split("/"):
            found = found[step]
    return dict(found)


def test_every_body_refuses_fields_that_it_does_not_document(document: dict[str, Any]) -> None:
    taken = [told["requestBody"] for _, told in operations(document) if "requestBody" in told]
    names = {
        body["content"]["application/json"]["schema"]["$ref"].rsplit("/", 1)[-1]
        for body in taken
        if "text/csv" not in body["content"]  # a file, read by its own rules
    }
    assert len(names) >= 7
    for name in (*names, "Foot"):
        assert document["components"]["schemas"][name]["additionalProperties"] is False, name


def test_every_quantity_is_documented_with_its_limits_and_meaning(
    document: dict[str, Any],
) -> None:
    schemas = document["components"]["schemas"]
    for quantities, name in ((MEASUREMENTS, "Foot"), (SOCK, "NewReport")):
        for quantity in quantities:
            shown = schemas[name]["properties"][quantity.name]
            assert (shown["minimum"], shown["maximum"]) == (quantity.low, quantity.high)
            assert shown["description"] == quantity.text
            assert (quantity.name in schemas[name]["required"]) is quantity.required


def test_every_post_that_stores_documents_its_idempotency_key(document: dict[str, Any]) -> None:
    for (method, path), told in operations(document):
        if method == "post" and path != "/v1/schedules":
            names = [_resolved(document, one)["name"] for one in told.get("parameters", [])]
            assert ("Idempotency-Key" in names) is (path not in SECRET), path


def test_the_document_names_no_other_host(lasting: Any) -> None:
    text = lasting.client.get("/openapi.json").text
    assert "http://" not in text
    assert "https://" not in text
