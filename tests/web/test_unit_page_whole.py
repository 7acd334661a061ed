"""A unit's page beyond its counts: tables of what is ahead and of the air, flags, photos, the end.

The demo is copied and something is written to it: a flag with its marks, a sighting with a photo.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import html
import io
import re
from collections.abc import Iterator

import pytest
import sqlalchemy as sa
from PIL import Image

import benchwalk.records as r
from benchwalk import demo
from benchwalk.catalogue import LOCALES, say
from benchwalk.demo.ground import id_of
from benchwalk.records.database import folder_of, session, writing
from benchwalk.records.photos import add
from benchwalk.report.figures import chance, figure, interval
from benchwalk.report.unit_page_words import unit_page_words
from benchwalk.summarise import summarise
from benchwalk.summarise.foreseen import foreseen
from benchwalk.summarise.unit import unit_course
from benchwalk.web import Served, create_app
from tests.web.conftest import asking, listening, token_of
from tests.web.test_reading_the_week import Text
from tests.web.test_week_page import numbers_of

UNIT = id_of("unit", "G2")
NOON = dt.datetime(2026, 6, 30, 12, tzinfo=dt.UTC)
NUMBER = re.compile(r'<a class="n" data-key="([^"]+)" href="([^"]+)">([^<]*)</a>')


def a_photo() -> bytes:
    out = io.BytesIO()
    Image.effect_noise((64, 48), 90).convert("RGB").save(out, "JPEG")
    return out.getvalue()


PHOTO = a_photo()
NAME = hashlib.sha256(PHOTO).hexdigest()
NOT_SENT = "f" * 64


@pytest.fixture(scope="module")
def nursery(data_of_the_demo) -> Iterator[tuple[sa.Engine, int]]:
    with demo.ready(data_of_the_demo()) as (engine, operation):
        with session(engine, operation) as s:
            scout = s.scalars(sa.select(r.Person.id).where(r.Person.pseudonym == "scout 2")).one()
        with writing(engine, operation, scout) as s:
            s.add_all(noted(s))
        add(folder_of(engine), NAME, PHOTO, 0, len(PHOTO))
        yield engine, operation


def noted(s) -> Iterator[r.Base]:
    """A flag set, confirmed and cleared on three walks, one that no look named, two photos."""
    walked = sa.select(r.Visit.walk_id, r.Walk.walk_on).join(r.Walk, r.Walk.id == r.Visit.walk_id)
    walks = s.execute(
        walked.where(r.Visit.unit_id == UNIT).order_by(r.Walk.walk_on.desc()).limit(3)
    ).all()
    flag = r.Flag(unit_id=UNIT, colour="red", reason="hot spot", position="west end")
    s.add_all([flag, r.Flag(unit_id=UNIT, colour="white", reason="indicator plant")])
    s.flush()
    for mark, walk in zip(("cleared", "confirmed", "set"), walks, strict=True):
        yield r.Observation(
            kind="look", walk_id=walk.walk_id, unit_id=UNIT, why="flagged", plants=1,
            seen_at=dt.datetime.combine(walk.walk_on, dt.time(14), dt.UTC),
            flag_id=flag.id, flag_mark=mark,
        )  # fmt: skip
    for name, words in ((NAME, "brown spots"), (NOT_SENT, "wilted at noon")):
        yield r.Sighting(
            unit_id=UNIT, seen_at=NOON, cause="not_known", words=words, photo_sha256=name
        )


@pytest.fixture(scope="module")
def url(nursery) -> Iterator[str]:
    with listening(create_app(Served(*nursery))) as address:
        yield address


@pytest.fixture(scope="module")
def grower(nursery, url):
    with asking(url, token_of(*nursery, "grower")) as client:
        yield client


@pytest.fixture(scope="module")
def pages(grower) -> dict[str, str]:
    """The unit's page by language, with what is ahead."""
    grower.get(f"/units/{UNIT}/ahead")
    return {locale: grower.get(f"/units/{UNIT}?lang={locale}").text for locale in LOCALES}


@pytest.fixture(scope="module")
def source(pages) -> str:
    return pages["en"]


@pytest.fixture(scope="module")
def week(nursery):
    with session(*nursery) as s:
        return foreseen(s, summarise(s))


def test_the_table_says_what_the_fan_draws_as_the_forecast_has_it(source, week):
    """Middle, 90 % interval and chance of every day to come are those of the forecast."""
    ahead = [a for a in week.forecasts.ahead.values() if a.key.unit_id == UNIT]
    shown, text, said = numbers_of(source), Text(source).text, 0
    for a in ahead:
        key = f"unit.{UNIT}.{a.key.taxon}.{a.key.stage}.{a.key.method}"
        for d in {d.on: d for d in (a.next_walk, *a.days) if d.on > week.day}.values():
            within = d.within(0.9)
            assert shown[f"{key}.ahead.{d.on}"] == figure(d.middle)
            assert f"{figure(d.middle)} ({interval(within.low, within.high, 'en')})" in text
            if d.over is None:
                assert f"{key}.over.{d.on}" not in shown
            else:
                assert shown[f"{key}.over.{d.on}"] == chance(d.over, "en")
                said += 1
    assert said >= 2
    assert text.count(", expected ") >= 2


def test_nothing_is_expected_before_it_was_worked_out(nursery):
    with session(*nursery) as s:
        course = unit_course(s, UNIT)
    assert not any(row.expected for c in unit_page_words(course, "en").courses for row in c.rows)


def test_the_table_has_the_lowest_and_highest_of_the_houses_air(nursery, source):
    """Recomputed in SQL from the sensor of the air space, over the seven days to the last walk."""
    with session(*nursery) as s:
        air = sa.select(r.House.air_space_id).join(r.Unit, r.Unit.house_id == r.House.id)
        houses = sa.select(r.House.id).where(
            r.House.air_space_id == air.where(r.Unit.id == UNIT).scalar_subquery()
        )
        rows = s.execute(
            sa.select(r.Climate.at, r.Climate.temp_min_c, r.Climate.temp_max_c)
            .join(r.Station, r.Station.id == r.Climate.station_id)
            .join(r.Unit, r.Unit.id == r.Station.unit_id)
            .where(r.Unit.house_id.in_(houses), r.Climate.temp_min_c.is_not(None))
        ).all()
        course = unit_course(s, UNIT)
    last = course.now.on
    days = [row for row in rows if last - dt.timedelta(days=7) < course.on(row.at) <= last]
    assert len(days) == 7
    low, high = min(d.temp_min_c for d in days), max(d.temp_max_c for d in days)
    said = say("page.air_between", "en", low=f"{low:.0f}", high=f"{high:.0f}")
    newest = re.search(rf'<tr><th scope="row">{last:%a} {last.day} {last:%b}</th>.*?</tr>', source)
    assert said in Text(newest[0]).text


@pytest.mark.parametrize("locale", LOCALES)
def test_every_number_of_the_page_opens_looks_that_make_it(grower, pages, locale):
    """Stages and plants with any too: the count on the page of looks is the one that led there."""
    links = NUMBER.findall(pages[locale])
    assert {key.split(".")[5] for key, _, _ in links} >= {
        "times", "density", "counted", "infested", "ahead",
    }  # fmt: skip
    for key, href, text in (one for one in links if one[0].endswith((".counted", ".infested"))):
        answer = grower.get(f"{html.unescape(href)}&lang={locale}")
        assert answer.status_code == 200
        counted = numbers_of(answer.text)[key.replace(".infested", ".counted")]
        first = re.search(r"\d+", text)
        if key.endswith(".counted") and first is not None:
            assert first[0] == re.search(r"\d+", counted)[0], key
        if key.endswith(".infested"):
            n, of = re.search(r"(\d+) \w+ (\d+)", text).groups()
            every = n == of
            shown = "page.looks_of" if every else "page.looks_shown"
            assert say(shown, locale, n=int(n), total=int(of)) in Text(answer.text).text


def test_a_flag_has_every_mark_with_its_day_and_its_scout_and_one_that_nobody_marked_says_so(
    nursery, source
):
    with session(*nursery) as s:
        flags = [
            f for f in unit_course(s, UNIT).flags if f.reason in ("hot spot", "indicator plant")
        ]
    assert [f.colour for f in flags] == ["white", "red"]  # what stands goes before what is cleared
    assert [m.what for m in flags[1].marks] == ["set", "confirmed", "cleared"]
    assert flags[0].marks == ()
    text = Text(source).text
    days = [m.on for m in flags[1].marks]
    said = [
        f"{m.what} {d:%a} {d.day} {d:%b}, {m.by}" for m, d in zip(flags[1].marks, days, strict=True)
    ]
    assert "hot spot, west end " + "; ".join(reversed(said)) in text
    assert f"indicator plant {say('report.mark.not_said', 'en')}" in text


def test_the_demos_own_flags_stand_on_the_pages_of_their_units(signed_in):
    """Set in week 21 and confirmed in week 24 of the demo, by the table of flags."""
    text = Text(signed_in("grower").get(f"/units/{UNIT}?lang=en").text).text
    found = re.search(
        r"red thrips, most of them here, \S+ (confirmed [^;]+); (set \w+ \d+ \w+)", text
    )
    assert found, text
    assert "Tue 16 Jun" in found[1]
    assert "Tue 26 May" in found[2]


def test_a_sighting_says_who_and_leads_to_its_record_and_its_photo(grower, source):
    seen = re.findall(r'<a href="(/ledger/[^"]+)">cause not known</a> <i>([^<]*)</i>', source)
    assert {words for _, words in seen} >= {"brown spots; scout 2", "wilted at noon; scout 2"}
    assert all(grower.get(href).status_code == 200 for href, _ in seen)
    assert re.search(rf'<img src="/photos/{NAME}" alt="Photo of the sighting of [^"]+"', source)
    answer = grower.get(f"/photos/{NAME}")
    assert answer.headers["content-type"] == "image/jpeg"
    with Image.open(io.BytesIO(answer.content)) as picture:
        assert picture.size == (64, 48)


def test_a_photo_that_has_not_come_is_words_and_no_broken_picture(grower, source):
    assert f"/photos/{NOT_SENT}" not in source
    assert say("page.photo_not_here", "en") in source
    assert grower.get(f"/photos/{NOT_SENT}").status_code == 404


@pytest.mark.parametrize("name", ["0" * 64, "..%2fbenchwalk.sqlite", "F" * 64, "f" * 63])
def test_a_photo_that_no_sighting_names_is_no_page(grower, name):
    assert grower.get(f"/photos/{name}").status_code == 404


def test_a_unit_that_was_closed_shows_its_last_week_and_who_came_after(nursery, grower):
    """Looks of its days lead back to it: the demo closed bench 5 on 6 April for a wider one."""
    with session(*nursery) as s:
        closed = s.scalars(sa.select(r.Unit).where(r.Unit.closed_on.is_not(None))).one()
        after = s.scalars(sa.select(r.Unit).where(r.Unit.predecessor_id == closed.id)).one()
        last = closed.closed_on - dt.timedelta(days=1)
        unit = next(u for u in summarise(s, last).units if u.unit.id == closed.id)
    answer = grower.get(f"/units/{closed.id}?lang=en")
    assert answer.status_code == 200
    assert f'<a href="/units/{after.id}">Glass House / {after.name}</a>' in answer.text
    assert "This unit was closed on Mon 6 Apr 2026" in Text(answer.text).text
    shown = numbers_of(answer.text)
    for line in unit.lines:
        key = line.series.key
        assert shown[f"unit.{key.unit_id}.{key.taxon}.{key.stage}.{key.method}.counted"]
    ahead = grower.get(f"/units/{closed.id}/ahead?day={last}")
    assert ahead.status_code == 303
    assert 'class="fan"' in grower.get(ahead.headers["location"]).text
