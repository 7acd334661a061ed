"""The interface over HTTP: whatever is sent, no server error, no undocumented answer."""

from __future__ import annotations

import json

import httpx
import pytest
import schemathesis
from fastapi.openapi.utils import get_openapi
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    response_schema_conformance,
    status_code_conformance,
)

from benchwalk.records.accounts import devices
from benchwalk.records.database import writing
from benchwalk.web import Served, create_app, sync
from tests.capture.a_phone import APhone
from tests.web.conftest import listening

EXAMPLES = 60


@pytest.fixture
def client(phone):
    app = create_app(Served(phone.engine, phone.n))
    with listening(app) as url, httpx.Client(base_url=url, trust_env=False) as asked:
        asked.headers["authorization"] = f"Bearer {phone.token}"
        yield asked


def message(*items, **other):
    said = {"version": 1, "epoch": None, "sent_at": "", "unsent": len(items)}
    return said | {"items": list(items)} | other


def post(client, what):
    content = what if isinstance(what, bytes) else json.dumps(what)
    return client.post("/api/v1/sync", content=content)


def documented(method, path, answer):
    held = get_openapi(title="", version="1", routes=sync.router.routes)
    return held["paths"][path][method]["responses"].keys() >= {str(answer.status_code)}


@pytest.mark.parametrize(
    ("sent", "status", "error"),
    [
        (b"", 400, "malformed"),
        (b"{", 400, "malformed"),
        (b"\xff\xfe", 400, "malformed"),
        (b"[" * 100_000, 400, "malformed"),
        (b"1" * 5000, 400, "malformed"),
        ([], 422, "envelope"),
        ({}, 422, "envelope"),
        (message(unsent=-1), 422, "envelope"),
        (message(unsent=True), 422, "envelope"),
        (message(*[0] * 501), 422, "envelope"),
        (message(version=2), 422, "version"),
        (message(version=True), 422, "version"),
        (message(version=[]), 422, "version"),
        (b" " * (2**20 + 1), 413, "too_large"),
    ],
    ids=range(14),
)
def test_an_envelope_that_is_none_is_refused_in_one_documented_way(client, sent, status, error):
    answer = post(client, sent)
    assert (answer.status_code, answer.json()["error"]) == (status, error)
    assert documented("post", "/api/v1/sync", answer)


def test_nobody_is_answered_without_the_token_of_a_phone(client, phone):
    for token in ("", "Bearer", "Bearer x", f"Basic {phone.token}"):
        for method, path in (("POST", "/api/v1/sync"), ("GET", "/api/v1/plan")):
            answer = client.request(method, path, headers={"authorization": token}, content="{}")
            assert answer.status_code == 401, (token, method)


def test_a_revoked_phone_is_answered_401_at_once(client, phone):
    assert post(client, message()).status_code == 200
    with writing(phone.engine, phone.n) as s:
        devices.revoke(s, phone.device)
    assert post(client, message()).status_code == 401
    assert client.get("/api/v1/plan").status_code == 401


def test_the_plan_of_another_operation_is_never_given(client, phone, engine):
    other = APhone(engine)
    answer = client.get("/api/v1/plan", headers={"authorization": f"Bearer {other.token}"})
    assert answer.status_code == 401
    assert other.unit not in client.get("/api/v1/plan").text


anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)
FIELDS = ["kind", "id", "rev", "base", "by", "seen_at", "offset_s", "void", "body"]


@given(data=st.data())
@settings(max_examples=EXAMPLES, suppress_health_check=list(HealthCheck))
def test_whatever_an_item_is_it_is_answered_and_the_good_one_beside_it_taken(client, phone, data):
    walk, visit, look = phone.morning(2)
    where = data.draw(st.sampled_from([*FIELDS, *look["body"]]))
    bad = json.loads(json.dumps(look)) | {"id": look["id"][:-1] + "0"}
    (bad if where in FIELDS else bad["body"])[where] = data.draw(anything)
    whole = data.draw(st.booleans())
    answer = post(client, message(bad if whole else data.draw(anything), walk, visit, look))
    assert answer.status_code == 200
    said = [a["answer"] for a in answer.json()["answers"]]
    assert len(said) == 4
    if bad["id"] != look["id"]:
        assert said[1:] == ["applied"] * 3


def test_schemathesis_finds_no_server_error_and_no_undocumented_answer(client, phone):
    held = get_openapi(title="phones", version="1", routes=sync.router.routes)
    schema = schemathesis.openapi.from_dict(held)
    checks = [not_a_server_error, status_code_conformance, response_schema_conformance]
    for found in schema.get_all_operations():

        @given(case=found.ok().as_strategy())
        @settings(max_examples=EXAMPLES, suppress_health_check=list(HealthCheck))
        def asked(case):
            case.call_and_validate(
                base_url=str(client.base_url), headers=dict(client.headers), checks=checks
            )

        asked()
