"""The list of corrections says where and what, keeps to what is asked for, and leads both ways."""

from __future__ import annotations

import html
import re

import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.demo import build
from benchwalk.records.corrections import Corrected, correct_look, void_record
from benchwalk.records.database import migrate, open_database, session, writing
from benchwalk.records.queries.changes import Asked, asking, changes
from benchwalk.records.queries.named import ids_in, named
from benchwalk.records.setup import set_up
from benchwalk.web import Served, create_app
from tests.web.conftest import asking as browsing
from tests.web.conftest import listening, person_of_role, token_of
from tests.web.test_reading_the_week import Text
from tests.web.test_week_page import numbers_of

ROW = re.compile(r'<tr role="row"><th role="rowheader".*?</tr>', re.DOTALL)


@pytest.fixture(scope="module")
def nursery(tmp_path_factory):
    """Three weeks of the demo; a grower corrected two looks and took one back, a manager one."""
    path = tmp_path_factory.mktemp("asked") / "benchwalk.sqlite"
    engine = open_database(f"sqlite:///{path}")
    migrate(engine)
    operation = set_up(engine, "To be asked (invented)", "UTC").operation
    with writing(engine, operation) as s:
        build(s, weeks=3)
    grower = person_of_role(engine, operation, "grower")
    with writing(engine, operation, grower) as s:
        first, second, third, fourth = looks(s)
        key = ("visual_leaf", "x", "y")
        for look in (first, second):
            held = s.get_one(r.Observation, (operation, look))
            tally = held.examined[0].tallies[0]
            key = (tally.method, tally.taxon, tally.stage)
            said = Corrected({key: tally.number + 5}, held.plants, "9.9")
            correct_look(s, look, 1, said, "read the wrong column")
        void_record(s, third, 1, "another bench")
    with writing(engine, operation, person_of_role(engine, operation, "manager")) as s:
        void_record(s, fourth, 1, "counted twice")
    yield engine, operation, (first, second, third)
    engine.dispose()


def looks(s) -> list:
    found = (
        sa.select(r.Observation.id)
        .join(r.Tally, r.Tally.observation_id == r.Observation.id)
        .where(r.Observation.kind == "look", r.Tally.number > 0)
        .distinct()
        .order_by(r.Observation.id)
        .limit(4)
    )
    return list(s.scalars(found))


@pytest.fixture(scope="module")
def grower(nursery):
    engine, operation, _ = nursery
    with (
        listening(create_app(Served(engine, operation))) as url,
        browsing(url, token_of(engine, operation, "grower")) as client,
    ):
        yield client


def rows(grower, asked: str = "") -> list[str]:
    return [Text(row).text for row in ROW.findall(grower.get(f"/ledger?lang=en{asked}").text)]


def of_the_ledger(nursery, *where) -> int:
    """Counted in SQL, not by the query of the page."""
    with session(*nursery[:2]) as s:
        return s.scalars(sa.select(sa.func.count()).select_from(r.Ledger).where(*where)).one()


def test_a_correction_says_its_unit_and_what_it_changed_with_what_stood_there_before(
    nursery, grower
):
    engine, operation, (first, *_) = nursery
    with session(engine, operation) as s:
        unit = s.get_one(r.Unit, (operation, s.get_one(r.Observation, (operation, first)).unit_id))
        tally = s.get_one(r.Observation, (operation, first)).examined[0].tallies[0]
    row = next(row for row in rows(grower) if f"number: {tally.number} (before:" in row)
    assert unit.name in row
    assert f"number: {tally.number} (before: {tally.number - 5})" in row
    assert "plant, place: 9.9 (before: " in row


def test_a_void_says_why_and_changes_no_number(grower):
    row = next(row for row in rows(grower) if "another bench" in row)
    assert "Version 2, void: another bench" in row
    assert "before:" not in row


@pytest.mark.parametrize(
    ("asked", "where"),
    [
        ("&what=void", [r.Ledger.void_reason.is_not(None)]),
        ("&what=corrected", [r.Ledger.rev > 1, r.Ledger.void_reason.is_(None)]),
        ("&kind=observation", [r.Ledger.rev > 1, r.Ledger.kind == "observation"]),
        ("&kind=card", [r.Ledger.rev > 1, r.Ledger.kind == "card"]),
        ("&kind=no_such", [r.Ledger.kind == "no_such"]),
    ],
)
def test_what_is_asked_for_is_all_that_is_shown(nursery, grower, asked, where):
    assert len(rows(grower, asked)) == of_the_ledger(nursery, *where)


def test_a_persons_changes_can_be_asked_for_by_who_changed_any(nursery, grower):
    engine, operation, _ = nursery
    with session(engine, operation) as s:
        people = dict((name, who) for who, name in asking(s).people)
    assert set(people) >= {"the grower", "the manager"}
    assert len(rows(grower)) > 3
    assert len(rows(grower, f"&by={people['the grower']}")) == 3
    source = grower.get(f"/ledger?by={people['the grower']}&lang=en").text
    assert f'<option value="{people["the grower"]}" selected>the grower</option>' in source


def test_older_changes_are_reached_page_by_page_and_none_twice(nursery):
    engine, operation, _ = nursery
    with session(engine, operation) as s:
        every = [one.said.seq for one in changes(s, Asked(), limit=10_000)]
        paged, before = [], None
        while held := changes(s, Asked(), before, limit=2):
            paged += [one.said.seq for one in held]
            before = paged[-1]
    assert paged == every
    assert len(every) == len(set(every)) >= 3


@pytest.mark.parametrize("odd", ["what=all", "by=me", f"kind={'x' * 49}", "kind=%00", "before=0"])
def test_what_nobody_can_ask_for_is_refused_in_words(grower, odd):
    answer = grower.get(f"/ledger?{odd}&lang=en")
    assert answer.status_code == 422
    assert odd.split("=")[0] in Text(answer.text).text


def test_a_looks_record_leads_to_its_unit_and_to_the_numbers_it_is_part_of(nursery, grower):
    engine, operation, (first, *_) = nursery
    source = grower.get(f"/ledger/{first}?lang=en").text
    with session(engine, operation) as s:
        look = s.get_one(r.Observation, (operation, first))
        tallies = [t for examined in look.examined for t in examined.tallies]
    assert f'<a href="/units/{look.unit_id}">' in source
    links = re.findall(r'<li><a href="(/looks[^"]+)">', source)
    assert len(links) == len(tallies) > 0
    for link in links:
        answer = grower.get(html.unescape(link))
        assert answer.status_code == 200
        assert f'href="/ledger/{first}"' in answer.text
        assert numbers_of(answer.text)


def test_no_id_of_a_record_is_shown_where_there_is_a_word_for_it(nursery, grower):
    """A house by its name, a walk by its day, a card by its station, in the history of a row."""
    engine, operation, (first, *_) = nursery
    with session(engine, operation) as s:
        unit = s.scalars(sa.select(r.Unit.id).where(r.Unit.house_id.is_not(None)).limit(1)).one()
        reading = s.scalars(
            sa.select(r.Observation.id).where(r.Observation.card_id.is_not(None)).limit(1)
        ).one()
        visit = s.scalars(sa.select(r.Ledger.id).where(r.Ledger.kind == "visit").limit(1)).one()
        bodies = list(s.scalars(sa.select(r.Ledger.body).where(r.Ledger.id == unit)))
        house = next(one.text for one in named(s, ids_in(bodies)) if one.kind == "house")
    for record in (unit, first, reading, visit):
        main = grower.get(f"/ledger/{record}?lang=en").text.split("<main")[1]
        assert ids_in([Text(main).text]) == set(), record
    assert f"House {house}" in Text(grower.get(f"/ledger/{unit}?lang=en").text).text
