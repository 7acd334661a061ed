"""Stored and reflected injection through every text field and import; forms of nonsense."""

from __future__ import annotations

import re

import httpx
import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records.accounts import devices
from benchwalk.records.database import session, writing
from benchwalk.records.sheets.bring import bring
from benchwalk.records.sheets.mappings import Kept
from benchwalk.records.sheets.table import read_table
from benchwalk.web import roles
from tests.web.security.conftest import (
    FILLED,
    FIRST,
    HOSTILE,
    NOBODY,
    sign_in,
)
from tests.web.test_reading_the_week import Text


@pytest.mark.parametrize("text", HOSTILE)
def test_reflected_injection_through_the_sign_in_is_text(office, text):
    with office.browser() as client:
        answer = sign_in(client, text[:60], "a wrong guess here", next=text)
        assert_is_text(answer, text[:60])
        assert_is_text(client.get("/sign-in", params={"next": text}), text)
        assert_is_text(client.get("/", params={"lang": text}, follow_redirects=True), text)
        assert_is_text(client.get(f"/{text}"), text)


@pytest.mark.parametrize("text", HOSTILE)
def test_stored_injection_through_every_field_of_accounts_is_text(office, text):
    with office.browser("ana") as client:
        client.headers["user-agent"] = text
        form = {"name": text, "sign_in_name": text, "role": "scout"}
        answer = client.post("/people", data=form)
        assert_is_text(answer, text, there=True)
        sign_in(client, "ana")
        assert_is_text(client.get("/account"), text, there=True)
        with writing(office.engine, office.operation) as s:
            devices.pair(s, devices.offer_pairing(s).secret, text)
        for path in ("/people", "/people/audit", "/phones"):
            assert_is_text(client.get(path), text, there=path != "/people/audit")
        assert_is_text(client.post("/people", data=form | {"role": text}), text)


LONG = "Date,House,Unit,Plant,Pest,Stage,Count,Notes\n2026-03-02,{0},{0},1,thrips,adult,2,{0}\n"


@pytest.mark.parametrize("text", HOSTILE)
def test_stored_injection_through_an_import_is_text(office, text, tmp_path):
    sheet = tmp_path / "counts.csv"
    quoted = '"' + text.replace('"', '""') + '"'
    sheet.write_text(LONG.format(quoted), encoding="utf-8")
    said = {"answers": {}, "kept": Kept(tmp_path), "rejects": tmp_path / "not-taken.csv"}
    table = read_table(sheet)
    bring(office.engine, office.operation, table, agree=lambda reading, asked: True, **said)
    with session(office.engine, office.operation) as s:
        unit = s.scalars(sa.select(r.Unit)).one()
        assert unit.name == text
    with office.browser("ana") as client:
        assert_is_text(client.get("/"), text, there=True)
        for path in ("/?lang=es", f"/units/{unit.id}", "/ledger", f"/ledger/{unit.id}", "/report"):
            assert_is_text(client.get(path), text)


def assert_is_text(answer: httpx.Response, text: str, *, there: bool = False) -> None:
    """No markup of the text, no script of any text, and the text itself where it has to be."""
    page = Text(answer.text)
    for tag, attributes in page.tags:
        assert tag not in ("img", "iframe", "object"), (tag, attributes)
        assert tag != "script" or attributes["src"].startswith("/static/")
        assert not [name for name in attributes if name.startswith("on") or name == "style"]
        assert not str(attributes.get("href")).strip().startswith("javascript:")
    assert len([tag for tag, _ in page.tags if tag == "title"]) == 1
    shown = page.text + " ".join(str(v) for _, a in page.tags for v in a.values())
    if there:
        assert re.sub(r"\s+", " ", text) in shown


ODD = ["", "<b>", "\0", "x" * 400, "-1", "1e99", "9" * 30, "|", "a|b|c", "' OR 1=1 --"]
FIELDS = [*FILLED, "name", "passphrase", "current", "pin", "which", "next", "tally", "number"]


@pytest.mark.parametrize("odd", ODD)
def test_no_form_filled_with_nonsense_breaks_the_program(office, odd):
    ids = {"person": office.bea, "device": NOBODY}
    with office.browser("ana") as client, writing(office.engine, office.operation) as s:
        s.add(unit := r.Unit(kind="unit", name="U", level=0, opened_on=FIRST))
        s.commit()
        ids |= {"unit": unit.id, "record": unit.id}
        for (method, path), who in sorted(roles.rights().items()):
            if method != "POST" or "manager" not in who:
                continue
            address = re.sub(r"{(\w+)}", lambda m: str(ids.get(m[1], NOBODY)), path)
            for form in (dict.fromkeys(FIELDS, odd), dict.fromkeys(FIELDS, odd) | {"rev": "1"}):
                assert client.post(address, data=form).status_code < 500, (address, odd)


@pytest.mark.parametrize("odd", ["\0", "\u202e", "a\nb", "\ud7ff\U0001f345"])
def test_a_phone_of_an_odd_name_is_paired_under_what_can_be_read_of_it(office, odd):
    with writing(office.engine, office.operation) as s:
        code = devices.offer_pairing(s).secret
    with office.browser() as client:
        said = client.post("/api/v1/pair", json={"code": code, "label": f"phone {odd}"})
        assert said.status_code == 200
    with session(office.engine, office.operation) as s:
        assert all(c.isprintable() for c in s.scalars(sa.select(r.Device.label)).one())
