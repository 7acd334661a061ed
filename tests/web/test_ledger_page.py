"""Correcting and taking back from the browser: a new rev with a reason, by those who may."""

from __future__ import annotations

import datetime as dt
import re
import uuid

import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.demo import build
from benchwalk.records.accounts import signing_in
from benchwalk.records.database import migrate, open_database, session, writing
from benchwalk.records.ledger import verify
from benchwalk.records.setup import set_up
from benchwalk.summarise import summarise
from benchwalk.web import Served, create_app
from tests.web.conftest import asking, listening, token_of
from tests.web.test_reading_the_week import Text

NOON = dt.datetime(2026, 1, 20, 12, tzinfo=dt.UTC)


@pytest.fixture(scope="module")
def nursery(tmp_path_factory):
    """Three weeks of the demo, to be written to: (engine, operation)."""
    path = tmp_path_factory.mktemp("ledger")
    engine = open_database(f"sqlite:///{path / 'benchwalk.sqlite'}")
    migrate(engine)
    operation = set_up(engine, "To be corrected (invented)", "UTC").operation
    with writing(engine, operation) as s:
        build(s, weeks=3)
    yield engine, operation
    engine.dispose()


@pytest.fixture(scope="module")
def url(nursery):
    with listening(create_app(Served(*nursery))) as address:
        yield address


@pytest.fixture
def grower(nursery, url):
    with asking(url, token_of(*nursery, "grower")) as client:
        yield client


def a_look(nursery, found=True) -> tuple[uuid.UUID, tuple[str, str, str], int]:
    """A look at one plant that nobody has changed, a tally of it and its number."""
    with session(*nursery) as s:
        counted = r.Tally.number > 0 if found else r.Tally.number == 0
        row = s.execute(
            sa.select(
                r.Observation.id, r.Tally.method, r.Tally.taxon, r.Tally.stage, r.Tally.number
            )
            .join(r.Tally, r.Tally.observation_id == r.Observation.id)
            .where(r.Observation.kind == "look", r.Observation.rev == 1, counted)
            .order_by(r.Observation.id)
        ).first()
    return row[0], tuple(row[1:4]), row[4]


def correction(look, tally, number):
    key = "|".join(tally)
    said = {"rev": "1", "reason": "read the wrong column", "tally": key, "number": str(number)}
    return f"/ledger/{look}/correct", said | {"plants": "1", "position": "7.3"}


def test_a_correction_is_a_new_rev_with_its_reason_and_the_old_one_can_be_read(nursery, grower):
    look, tally, number = a_look(nursery)
    path, said = correction(look, tally, number + 40)
    answer = grower.post(path, data=said)
    assert (answer.status_code, answer.headers["location"]) == (303, f"/ledger/{look}")
    text = Text(grower.get(f"/ledger/{look}").text).text
    assert "Version 2 the grower" in text
    assert "corrected: read the wrong column" in text
    assert f": number {number + 40} Before {number} " in text, text
    with session(*nursery) as s:
        held = s.scalars(sa.select(r.Tally.number).where(r.Tally.observation_id == look)).all()
        assert number + 40 in held
        assert verify(s, nursery[1]) is None  # the chain holds


def test_a_correction_changes_the_number_of_its_week(nursery, grower):
    look, tally, number = a_look(nursery)
    with session(*nursery) as s:
        seen = s.get_one(r.Observation, (nursery[1], look))
        day = s.get_one(r.Walk, (nursery[1], seen.walk_id)).walk_on
        before = total_of(summarise(s, day), seen.unit_id, tally)
    grower.post(**correction_args(look, tally, number + 7))
    with session(*nursery) as s:
        assert total_of(summarise(s, day), seen.unit_id, tally) == before + 7


def correction_args(look, tally, number):
    path, said = correction(look, tally, number)
    return {"url": path, "data": said}


def total_of(week, unit, tally):
    lines = [x for u in week.units if u.unit.id == unit for x in u.lines]
    return next(x.series.total for x in lines if (x.method, x.taxon, x.stage) == tally)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"reason": "  "}, "A reason is needed"),
        ({"number": "-1"}, "“-1” is not a count"),
        ({"number": "1.5"}, "“1.5” is not a count"),
        ({"number": ""}, "is not a count"),
        ({"number": "9" * 5000}, "is not a count"),
        ({"number": "9" * 10}, "is not a count"),
        ({"plants": "0"}, "“0” is not a number of plants"),
        ({"plants": "32768"}, "“32768” is not a number of plants"),
        ({"plants": "9" * 30}, "is not a count"),
        ({"rev": "9"}, "you read version 9; now it is version 1"),
    ],
)
def test_a_correction_that_is_none_changes_nothing_and_says_why(nursery, grower, change, words):
    look, tally, number = a_look(nursery)
    path, said = correction(look, tally, number + 1)
    answer = grower.post(path, data=said | change)
    assert answer.status_code == 400
    assert words in Text(answer.text).text
    with session(*nursery) as s:
        assert s.get_one(r.Observation, (nursery[1], look)).rev == 1


def test_what_was_typed_is_shown_again_where_it_is_refused(nursery, grower):
    look, tally, number = a_look(nursery)
    path, said = correction(look, tally, number + 53)
    source = grower.post(path, data=said | {"plants": "0", "position": '4"'}).text
    for typed in (str(number + 53), "0", "4&#34;", "read the wrong column"):
        assert f'value="{typed}"' in source, typed
    source = grower.post(f"/ledger/{look}/void", data={"rev": "9", "reason": "another"}).text
    assert 'name="reason" value="another"' in source


def test_what_was_typed_of_an_earlier_rev_is_not_laid_over_what_is_there_now(nursery, grower):
    look, tally, number = a_look(nursery)
    path, said = correction(look, tally, number + 53)
    source = grower.post(path, data=said | {"rev": "9"}).text
    assert f'value="{number + 53}"' not in source
    assert 'value="read the wrong column"' in source


def test_at_least_none_is_no_correction(nursery, grower):
    look, tally, _ = a_look(nursery)
    with writing(*nursery) as s:
        of = (r.Tally.observation_id == look) & (r.Tally.taxon == tally[1])
        s.scalars(sa.select(r.Tally).where(of, r.Tally.number > 0)).first().how = "at_least"
    rev, asked = 2, correction_args(look, tally, 0)
    answer = grower.post(asked["url"], data=asked["data"] | {"rev": str(rev)})
    assert answer.status_code == 400
    assert "“At least 0” says nothing" in Text(answer.text).text


def test_what_is_taken_back_counts_no_more_and_stays_to_be_read(nursery, grower):
    look, tally, number = a_look(nursery)
    with session(*nursery) as s:
        seen = s.get_one(r.Observation, (nursery[1], look))
        day = s.get_one(r.Walk, (nursery[1], seen.walk_id)).walk_on
        before = total_of(summarise(s, day), seen.unit_id, tally)
    answer = grower.post(f"/ledger/{look}/void", data={"rev": "1", "reason": "another bench"})
    assert answer.status_code == 303
    source = grower.get(f"/ledger/{look}").text
    assert "Version 2, void: another bench" in Text(source).text
    assert 'class="void"' in source
    assert '<form class="form"' not in source  # nothing is left to be changed
    with session(*nursery) as s:
        assert total_of(summarise(s, day), seen.unit_id, tally) == before - number
    params = dict(zip(("method", "pest", "stage"), tally, strict=True))
    asked = params | {"unit": str(seen.unit_id), "on": day.isoformat()}
    behind = Text(grower.get("/looks", params=asked).text).text
    assert "Taken back, not in the number" in behind
    assert "Void: another bench." in behind


def test_what_other_records_rest_on_is_not_taken_back_before_them(nursery, grower):
    with session(*nursery) as s:
        walk = s.scalars(sa.select(r.Walk.id).order_by(r.Walk.id)).first()
    answer = grower.post(f"/ledger/{walk}/void", data={"rev": "1", "reason": "never happened"})
    assert answer.status_code == 400
    assert "Take those back first" in Text(answer.text).text


def test_a_scout_may_change_what_the_scout_said_and_nothing_else(nursery, url):
    look, tally, number = a_look(nursery)
    with session(*nursery) as s:
        said_by = s.scalars(sa.select(r.Ledger.by_id).where(r.Ledger.id == look)).first()
    tokens = {person: token_of_person(nursery, person) for person in scouts(nursery)}
    for person, token in tokens.items():
        with asking(url, token) as scout:
            shows_forms = '<form class="form' in scout.get(f"/ledger/{look}").text
            assert shows_forms == (person == said_by)
            if person != said_by:
                answer = scout.post(**correction_args(look, tally, number + 1))
                assert answer.status_code == 400
                assert "Only who made this record" in Text(answer.text).text
    with asking(url, tokens[said_by]) as scout:
        assert scout.post(**correction_args(look, tally, number + 1)).status_code == 303


def scouts(nursery) -> list[uuid.UUID]:
    with session(*nursery) as s:
        return list(s.scalars(sa.select(r.Person.id).where(r.Person.role == "scout")))


def token_of_person(nursery, person) -> str:
    with writing(*nursery) as s:
        return signing_in.begin(s, person, browser="a test", source=None)


@pytest.mark.parametrize("role", ["advisor", "applicator"])
def test_who_only_reads_has_no_forms_and_is_refused(nursery, url, role):
    look, tally, number = a_look(nursery)
    with asking(url, token_of(*nursery, role)) as reader:
        assert '<form class="form"' not in reader.get(f"/ledger/{look}").text
        assert reader.post(**correction_args(look, tally, number)).status_code == 403


def test_the_list_names_corrections_and_voids_and_no_first_words(nursery, grower):
    rows = grower.get("/ledger").text.count('<th role="rowheader"')
    with session(*nursery) as s:
        changed = sa.or_(r.Ledger.rev > 1, r.Ledger.void_reason.is_not(None))
        assert rows == len(s.scalars(sa.select(r.Ledger.seq).where(changed)).all())


def test_what_could_not_be_taken_waits_on_the_page_for_a_person(nursery, grower):
    engine, operation = nursery
    with writing(engine, operation) as s:
        said = {"kind": "observation", "rev": 2, "reason": "same rev, other content"}
        s.add(r.Aside(operation_id=operation, n=1, received_at=NOON, body='{"n": 3}', **said))
    source = grower.get("/ledger").text
    assert '<a href="/conflicts/1">Look or reading</a>' in source
    assert "same rev, other content" in Text(source).text
    assert "&#34;n&#34;: 3" not in source  # as it came, letter by letter: on the page it leads to


def test_another_record_is_no_page_and_takes_no_form(grower):
    nowhere = f"/ledger/{uuid.uuid4()}"
    assert grower.get(nowhere).status_code == 404
    said = {"rev": "1", "reason": "x"}
    assert grower.post(f"{nowhere}/void", data=said).status_code == 404
    assert grower.post(f"{nowhere}/correct", data=said).status_code == 404
    assert re.search("There is no such page", grower.get(nowhere).text)
