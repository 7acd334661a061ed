"""The page of phones: what each last said of itself, and the file of one that cannot send."""

from __future__ import annotations

import datetime as dt
import json
import re

import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records.database import session
from benchwalk.web import Served, create_app
from tests.capture.a_phone import APhone
from tests.web.conftest import asking, kept_to_its_operation, listening, token_of

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)


@pytest.fixture
def phone(engine, small):
    return APhone(engine, small)


@pytest.fixture
def address(phone):
    with (
        kept_to_its_operation(phone.engine),
        listening(create_app(Served(phone.engine, phone.n))) as url,
    ):
        yield url


@pytest.fixture
def grower(phone, address):
    with asking(address, token_of(phone.engine, phone.n, "grower")) as client:
        yield client


def sends(address, phone, *items, unsent=0, **said):
    message = {"version": 1, "epoch": 1, "unsent": unsent, "items": list(items)} | said
    with asking(address) as client:
        client.headers["authorization"] = f"Bearer {phone.token}"
        answer = client.post("/api/v1/sync", json=message)
    assert answer.status_code == 200
    return answer


def clock(minutes):
    return (dt.datetime.now(dt.UTC) + dt.timedelta(minutes=minutes)).isoformat()


def row(client, label="phone 1"):
    """The cells of a phone's row, as text."""
    (found,) = [x for x in client.get("/phones").text.split("<tr") if f">{label}</th>" in x]
    cells = re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", found, re.DOTALL)
    plain = [re.sub(r'<i class="in-cell">.*?</i>|<[^>]+>', " ", cell).strip() for cell in cells]
    return dict(
        zip(("phone", "heard", "unsent", "aside", "version", "clock"), plain[:6], strict=True)
    )


def test_a_phone_that_was_never_heard_is_not_said_to_have_nothing_unsent(grower):
    assert row(grower) == {
        "phone": "phone 1",
        "heard": "no word yet",
        "unsent": "not known",
        "aside": "0",
        "version": "not known",
        "clock": "not known",
    }


def test_what_a_phone_said_of_itself_is_shown(phone, address, grower):
    sends(address, phone, *phone.morning(3)[:1], unsent=12, sent_at=clock(0), app="1.2.0")
    shown = row(grower)
    assert (shown["unsent"], shown["version"], shown["clock"]) == ("11", "1.2.0", "right")
    assert re.fullmatch(r"\w{3} \d+ \w{3} \d{4} \d\d:\d\d", shown["heard"])


@pytest.mark.parametrize(
    ("minutes", "said"),
    [
        (7, "7 minutes fast"),
        (-7, "7 minutes slow"),
        (1440, "24 hours fast"),
        (-4320, "3 days slow"),
        (1, "right"),
    ],
)
def test_how_wrong_the_clock_of_a_phone_is(phone, address, grower, minutes, said):
    sends(address, phone, sent_at=clock(minutes))
    assert row(grower)["clock"] == said


@pytest.mark.parametrize("sent_at", [None, 5, "", "yesterday", "2026-03-10T09:00:00", []])
def test_a_clock_that_says_no_instant_has_no_error_that_is_known(phone, address, grower, sent_at):
    sends(address, phone, sent_at=sent_at)
    assert row(grower)["clock"] == "not known"


@pytest.mark.parametrize(
    ("app", "shown"),
    [("9" * 80, "9" * 24), ("<i>", "&lt;i&gt;"), (7, "not known"), ("\0", "not known")],
)
def test_a_version_is_cut_escaped_and_never_trusted(phone, address, grower, app, shown):
    sends(address, phone, app=app, sent_at=clock(0))
    assert row(grower)["version"] == shown


def the_file(phone, items, **other):
    with session(phone.engine, phone.n) as s:
        uid = str(s.scalars(sa.select(r.Operation.uid).where(r.Operation.id == phone.n)).one())
    told = {"file": "benchwalk-phone", "version": 1, "operation": uid, "device": str(phone.device)}
    return json.dumps(told | {"epoch": 1, "made_at": "x", "items": items} | other).encode()


def brings(client, content, name="phone.json"):
    return client.post("/phones/import", files={"file": (name, content, "application/json")})


def test_the_file_of_a_phone_comes_in_once_however_often_it_is_brought(phone, grower):
    file = the_file(phone, phone.morning(1, 2))
    first = brings(grower, file)
    assert first.status_code == 200
    assert "Brought in" in first.text
    assert sorted(n for _, n in phone.held().values()) == [1, 2]
    brings(grower, file)
    assert len(phone.held()) == 2


@pytest.mark.parametrize(
    "content",
    [b"", b"{}", b"\xff\xfe", b"[" * 100_000, b'{"file": "benchwalk-phone", "version": 9}'],
    ids=["empty", "no_file", "no_text", "deep", "version"],
)
def test_what_is_no_file_of_a_phone_is_refused_in_words(phone, grower, content):
    answer = brings(grower, content, "<b>.json")
    assert answer.status_code == 400
    assert 'role="alert"' in answer.text
    assert "<b>" not in answer.text.split('role="alert"')[1].split("</p>")[0]
    assert phone.held() == {}


def test_the_file_of_another_operation_is_refused(phone, grower, engine):
    other = APhone(engine)
    assert brings(grower, the_file(other, other.morning(4))).status_code == 400
    assert other.held() == {}
    assert phone.held() == {}


def test_a_pairing_code_says_where_to_type_it_too(grower, address):
    answer = grower.post("/phones/pair")
    assert f"<code>{address}/pair</code>" in answer.text
    assert "<svg" in answer.text
