"""A query without its operation: every page reads the same, whoever else is in the database.

The other operation has the same ids, newer walks, other names and other counts: whatever is asked
without the operation comes out as another number, another line or another name.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections import Counter
from contextlib import contextmanager
from functools import cache

import httpx
import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records.accounts import devices, links
from benchwalk.records.database import writing
from benchwalk.web import Served, create_app
from tests.web.conftest import SCOPED, asking, listening, token_of
from tests.web.security.a_planted_nursery import Planted
from tests.web.security.every_page import NO_PAGES, Known, read_all, route_of

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
THEIRS = "theirs"
OF_EACH = 1  # addresses of a route
# what is new at each reading: ids made for a form, tokens, the minute, the second
MINUTE, INSTANT = r"\d{4}-\d\d-\d\d \d\d:\d\d", r"\d{4}-\d\d-\d\dT[\d:.+]+"
ID, DIGEST = r"[0-9a-f]{8}-[0-9a-f-]{27}", r"\b[0-9a-f]{64}\b"
ANEW = re.compile("|".join((MINUTE, INSTANT, ID, DIGEST, r"DTSTAMP:\S+")))
FILES = ("/exports/package.zip", "/exports/full.zip")


class Reading:
    """What somebody of an operation is shown, by a server that has remembered nothing yet."""

    def __init__(self, mine: Planted, token: str, calendar: str, phone: str) -> None:
        known = Known(mine.engine, mine.operation, mine.manager)
        app = create_app(Served(mine.engine, mine.operation))
        with listening(app) as url, asking(url, token) as client:
            answers = read_all(client, known, {*NO_PAGES, "/link/{token}"}, OF_EACH)
            self.files = {path: client.get(path).content for path in FILES}
            bearer = {"authorization": f"Bearer {phone}"}
            for path in (f"/calendar/{calendar}.ics", "/api/v1/plan"):
                # what a phone loads for a shift is no page, and may send more queries
                answers[path] = httpx.get(url + path, headers=bearer, timeout=60, trust_env=False)
        self.pages = {a: ANEW.sub("", p.text.replace(url, "")) for a, p in answers.items()}
        self.routes = {route_of(address) for address in answers}


HELD = r"\b{0}\.operation_id\s*(?:=|IN\b)|=\s*{0}\.operation_id\b"
TABLE = re.compile(r"\b(?:FROM|JOIN)\s+\"?(\w+)\"?(?:\s+AS\s+\"?(\w+))?", re.IGNORECASE)


@cache
def not_held(statement: str) -> list[str]:
    """Tables that a statement reads without saying of which operation, each part of it by itself.

    A table may stand in it several times, under one name or several: each is held to one.
    """
    if not statement.lstrip().upper().startswith(("SELECT", "WITH")):
        return []
    read = Counter((table, alias or table) for table, alias in TABLE.findall(statement))
    return [
        alias
        for (table, alias), times in read.items()
        if table in SCOPED and len(re.findall(HELD.format(alias), statement)) < times
    ]


@pytest.mark.parametrize(
    ("statement", "astray"),
    [
        ("SELECT u.name FROM unit AS u WHERE u.operation_id = ?", []),
        ("SELECT operation.name, (SELECT max(ledger.seq) FROM ledger) FROM operation", ["ledger"]),
        (
            "SELECT w.id FROM walk AS w JOIN unit ON unit.id = w.id WHERE w.operation_id = 1",
            ["unit"],
        ),
        (
            "SELECT a.x FROM unit AS a WHERE a.operation_id = 1 UNION SELECT a.x FROM unit AS a",
            ["a"],
        ),
        ("SELECT w.id FROM walk AS w JOIN unit ON unit.operation_id = w.operation_id WHERE 1", []),
    ],
)
def test_a_part_of_a_query_without_its_operation_is_known_when_it_is_seen(
    database_url, statement, astray
):
    assert not_held(statement) == astray


@contextmanager
def each_part_held(engine):
    """Fails when a part of a statement sent meanwhile reads every operation."""
    astray = {}

    def read(_, __, statement, *___):
        astray.update({statement: held} if (held := not_held(statement)) else {})

    sa.event.listen(engine, "before_cursor_execute", read)
    yield
    sa.event.remove(engine, "before_cursor_execute", read)
    assert astray == {}


def texts(content: bytes) -> str:
    if not zipfile.is_zipfile(io.BytesIO(content)):
        return content.decode("utf-8")
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return "\n".join(archive.read(name).decode("utf-8") for name in archive.namelist())


def test_another_operation_in_the_database_changes_no_page_and_no_file(engine):
    mine = Planted(engine)
    token = token_of(engine, mine.operation)
    with writing(engine, mine.operation) as s:
        calendar = links.make(s, "calendar", mine.manager)
        phone = devices.pair(s, devices.offer_pairing(s).secret, "a phone").token
    with each_part_held(engine):
        alone = Reading(mine, token, calendar, phone)
    other = Planted(engine, THEIRS, weeks=3)
    beside = Reading(mine, token, calendar, phone)
    assert len(alone.routes) >= 20
    assert same_ids(engine, mine.operation, other.operation) > 100
    changed = {a for a in alone.pages if alone.pages[a] != beside.pages.get(a)}
    assert changed == set()
    assert beside.pages.keys() == alone.pages.keys()
    for path, content in beside.files.items():
        assert THEIRS not in texts(content), path
    for address, page in beside.pages.items():
        assert THEIRS not in page, address


def same_ids(engine, mine, other):
    """Records of both operations that have one id: a join by ids alone would mix them."""
    one, two = (sa.orm.aliased(r.Ledger) for _ in range(2))
    both = sa.select(sa.func.count(one.id.distinct())).join(two, one.id == two.id)
    with engine.connect() as c:
        wanted = both.where(one.operation_id == mine, two.operation_id == other)
        return c.execute(wanted).scalar_one()
