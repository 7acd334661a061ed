"""Each row of the table of roles, asked as each role: with its ids, its method and its form.

The oracle is `roles.csv` read here as the text it is, not by the code that decides.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records.database import session
from benchwalk.web import Served, create_app, roles
from tests.web.conftest import (
    ROLES,
    an_empty_operation,
    asking,
    listening,
    token_of,
)

NOBODYS = "01890000-0000-7000-8000-000000000000"
DIGEST = "0" * 64
GIVEN = {"n": "1", "name": "week.html", "digest": DIGEST, "token": "guessed"}
REFUSED, SIGNED_OUT = 403, 401


def rows() -> list[tuple[str, str, frozenset[str]]]:
    """(method, address with ids that nobody has, who) of every row that names roles."""
    text = (Path(roles.__file__).parent / "roles.csv").read_text("utf-8")
    held = [(row["method"], row["path"], frozenset(row["who"].split())) for row in _read(text)]
    return [(method, address(path), who) for method, path, who in held if who <= set(ROLES)]


def _read(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(text.splitlines()))


def address(path: str) -> str:
    return re.sub(r"{(\w+)}", lambda name: GIVEN.get(name[1], NOBODYS), path)


@pytest.fixture(scope="module")
def nursery(tmp_path_factory) -> Iterator[tuple[sa.Engine, int, str]]:
    """An operation of its own, since whoever may is let in and a form may do what it says."""
    with (
        an_empty_operation(tmp_path_factory.mktemp("roles")) as (engine, operation),
        listening(create_app(Served(engine, operation))) as url,
    ):
        yield engine, operation, url


def newest(engine: sa.Engine, operation: int) -> tuple[int | None, int]:
    """The newest row of the ledger, and how many people there are."""
    with session(engine, operation) as s:
        people = s.scalars(sa.select(sa.func.count()).select_from(r.Person)).one()
        return s.scalars(sa.select(sa.func.max(r.Ledger.seq))).one(), people


@pytest.mark.parametrize("role", ROLES)
def test_a_role_is_refused_where_its_row_does_not_name_it_and_nothing_changes(nursery, role):
    engine, operation, url = nursery
    with asking(url, token_of(engine, operation, role)) as client:
        before = newest(engine, operation)
        for method, path, who in rows():
            if role not in who:
                assert client.request(method, path).status_code == REFUSED, (method, path)
        assert newest(engine, operation) == before


@pytest.mark.parametrize("role", ROLES)
def test_a_role_is_let_in_where_its_row_names_it(nursery, role):
    """Anything but 403 and 401: an id that nobody has is 404, a form that lacks all is 422."""
    engine, operation, url = nursery
    token = token_of(engine, operation, role)
    for method, path, who in rows():
        if role in who:
            # forms of the account may end sign-ins
            ends = path.startswith("/account/")
            with asking(url, token_of(engine, operation, role) if ends else token) as client:
                status = client.request(method, path).status_code
                assert status not in (REFUSED, SIGNED_OUT), (method, path)


def test_every_role_is_refused_somewhere_but_the_manager_nowhere_and_each_may_read_the_week():
    """By the table itself: what it says of each role is what the brief of the roles says."""
    refusals = {role: sum(role not in who for _, _, who in rows()) for role in ROLES}
    assert refusals["manager"] == 0
    assert all(refusals[role] > 0 for role in ROLES if role != "manager")
    assert all(who == set(ROLES) for _, path, who in rows() if path in ("/", "/looks"))


def test_who_only_reads_may_send_no_form_but_those_of_their_own_account():
    """Advisors and applicators change no record: their forms are the account and the calendar."""
    for role in ("advisor", "applicator"):
        forms = {path for method, path, who in rows() if method != "GET" and role in who}
        assert all(path.startswith(("/account/", "/calendar")) for path in forms), forms
