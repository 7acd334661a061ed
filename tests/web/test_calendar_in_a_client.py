"""The calendar as a client keeps it: whole days, one event a thing, moved and ended with it.

Read by the library icalendar; the rules are those of RFC 5545.
"""

from __future__ import annotations

import datetime as dt
import re
import shutil
import uuid
from itertools import pairwise

import icalendar
import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.demo import build
from benchwalk.records.database import migrate, open_database, session, writing
from benchwalk.records.setup import set_up
from benchwalk.report.icalendar import Event, calendar
from benchwalk.summarise import summarise
from benchwalk.summarise.checks import every_check
from benchwalk.web import Served, create_app
from tests.web.conftest import asking, listening, token_of

STAMP = dt.datetime(2026, 5, 7, 12, tzinfo=dt.UTC)
DAY = dt.timedelta(days=1)


@pytest.fixture(scope="module")
def three_weeks(tmp_path_factory):
    """Three weeks of the demo: the file, and the operation in it."""
    path = tmp_path_factory.mktemp("calendar") / "benchwalk.sqlite"
    engine = open_database(f"sqlite:///{path}")
    migrate(engine)
    operation = set_up(engine, "A calendar (invented)", "America/New_York").operation
    with writing(engine, operation) as s:
        build(s, weeks=3)
    engine.dispose()
    return path, operation


@pytest.fixture
def nursery(three_weeks, tmp_path):
    """A copy, to be written to."""
    path, operation = three_weeks
    shutil.copy(path, tmp_path / "benchwalk.sqlite")
    engine = open_database(f"sqlite:///{tmp_path / 'benchwalk.sqlite'}")
    yield engine, operation
    engine.dispose()


@pytest.fixture
def client(nursery):
    with (
        listening(create_app(Served(*nursery))) as url,
        asking(url, token_of(*nursery, "scout")) as scout,
    ):
        yield scout


def address(client, locale="en") -> str:
    return re.search(r"<code>(\S+)</code>", client.post(f"/calendar?lang={locale}").text)[1]


def events(client, of: str) -> dict[str, icalendar.Event]:
    read = icalendar.Calendar.from_ical(client.get(of).content)
    found = {str(e["uid"]): e for e in read.walk("VEVENT")}
    assert len(found) == len(read.walk("VEVENT"))  # no UID twice
    return found


def test_what_is_late_begins_on_its_day_and_lasts_until_today(client, nursery):
    """The demo lies months back: every event reaches today, its end the day after (3.6.1)."""
    today = dt.datetime.now(dt.UTC).date()
    with session(*nursery) as s:
        last = {u.unit.id: u.on for u in summarise(s).units}
    found = events(client, address(client))
    walks = {uid: e for uid, e in found.items() if uid.startswith("walk-")}
    assert len(walks) == 16
    for uid, e in walks.items():
        assert type(e["dtstart"].dt) is dt.date  # a whole day, of no zone
        assert abs((e["dtend"].dt - DAY - today).days) <= 1  # the office's day may be another
        unit = uid.removeprefix("walk-").removesuffix("@benchwalk")
        if unit in map(str, last):
            assert e["dtstart"].dt == last[uuid.UUID(unit)] + 7 * DAY
        assert str(e["url"]).endswith(f"/units/{unit}")
        assert client.get(str(e["url"])).status_code == 200


@pytest.mark.parametrize("on", [dt.date(2026, 3, 8), dt.date(2026, 11, 1), dt.date(2024, 2, 29)])
def test_a_day_on_which_clocks_change_is_one_day_like_any_other(on):
    """Dates without a time have no zone (3.3.4): 23 and 25 hours are a day as well."""
    text = calendar("x", [Event("a", on, on, "Walk", "http://localhost/units/1")], STAMP)
    (e,) = icalendar.Calendar.from_ical(text).walk("VEVENT")
    assert (e["dtstart"].dt, e["dtend"].dt) == (on, on + DAY)
    assert "TZID" not in text


def test_after_the_next_walk_the_same_event_has_moved_and_none_is_doubled(client, nursery):
    of = address(client)
    before = events(client, of)
    with writing(*nursery) as s:
        unit, last = summarise(s).units[0].unit.id, summarise(s).units[0].on
        walk_on(s, unit, last + 7 * DAY)
    after = events(client, of)
    assert set(after) <= set(before)  # a check may be done with it
    moved = {uid for uid in after if after[uid]["dtstart"].dt != before[uid]["dtstart"].dt}
    assert moved == {f"walk-{unit}@benchwalk"}
    assert after[f"walk-{unit}@benchwalk"]["dtstart"].dt == last + 14 * DAY


def walk_on(s, unit, day) -> None:
    """One plant of the unit looked at on another day, as the newest look there was."""
    like = s.scalars(
        sa.select(r.Observation)
        .where(r.Observation.unit_id == unit, r.Observation.kind == "look")
        .order_by(r.Observation.seen_at.desc())
        .limit(1)
    ).one()
    held = s.get_one(r.Walk, (like.operation_id, like.walk_id))
    at = dt.datetime.combine(day, dt.time(14), dt.UTC)
    walk = r.Walk(walk_on=day, scout_id=held.scout_id)
    s.add(walk)
    s.flush()
    s.add(r.Visit(walk_id=walk.id, unit_id=unit, state="done"))
    s.flush()
    tally = like.examined[0].tallies[0]
    counted = r.Tally(taxon=tally.taxon, stage=tally.stage, how="counted", number=1)
    examined = r.Examined(method=tally.method, items=1, tallies=[counted])
    look = {"kind": "look", "why": "sample", "plants": 1, "planting_id": like.planting_id}
    s.add(r.Observation(walk_id=walk.id, unit_id=unit, seen_at=at, examined=[examined], **look))


def test_what_is_no_more_leaves_the_calendar(client, nursery):
    """A unit that is closed: its walk is gone at the next asking, the others stay."""
    of = address(client)
    before = events(client, of)
    unit = next(uid for uid in before if uid.startswith("walk-")).removeprefix("walk-")[:36]
    with writing(*nursery) as s:
        day = summarise(s).day
        held = s.scalars(sa.select(r.Unit)).all()
        next(u for u in held if str(u.id) == unit).closed_on = day
    gone = set(before) - set(events(client, of))
    assert f"walk-{unit}@benchwalk" in gone
    assert all(unit in uid for uid in gone)


def test_a_treatment_late_in_the_evening_is_of_that_day_where_the_operation_is(nursery):
    """22:30 in New York is the next day in UTC; the check counts from the day on the wall there."""
    engine, operation = nursery
    with session(engine, operation) as s:
        day = summarise(s).day
        unit = summarise(s).units[0].unit.id
    late = dt.datetime.combine(day, dt.time(3, 30), dt.UTC)
    with writing(engine, operation) as s:
        s.add(
            r.Application(
                kind="spray", what="soap, late",
                loads=[
                    r.Load(n=1, started_at=late, ended_at=late + dt.timedelta(hours=1),
                           treated=[r.Treated(unit_id=unit, share_percent=100)])
                ],
            )
        )  # fmt: skip
    with session(engine, operation) as s:
        known = summarise(s).known
        check = next(c for c in every_check(s, known) if c.put.what == "soap, late")
    assert check.on == day - DAY


def test_the_calendar_keeps_the_language_it_was_made_in(client):
    """A calendar's program has no cookie: the address says the language."""
    spanish, english = (address(client, locale) for locale in ("es", "en"))
    assert spanish.endswith("?lang=es")
    assert english.endswith("?lang=en")
    words = {str(e["summary"]) for e in events(client, english).values()}
    assert all(word.startswith(("Walk: ", "Check: ")) for word in words)


def test_walks_come_in_order_of_their_days(client):
    days = [e["dtstart"].dt for u, e in events(client, address(client)).items() if "walk" in u]
    assert all(a <= b for a, b in pairwise(days))
