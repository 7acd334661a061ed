"""From a number to its looks: their counts add up to it, and say who, when and which plant."""

from __future__ import annotations

import re
import uuid
from dataclasses import replace

import pytest

from benchwalk.catalogue import LOCALES, say
from benchwalk.records.database import session
from benchwalk.report.keys import looks_address
from benchwalk.report.looks_words import behind_words
from benchwalk.summarise import summarise
from benchwalk.summarise.looks import behind
from tests.web.test_reading_the_week import Text


@pytest.fixture(scope="module")
def week(demo_operation):
    with session(*demo_operation) as s:
        return summarise(s)


def test_the_looks_behind_every_plant_count_of_the_week_add_up_to_it(demo_operation, week):
    """Sum over sum: the total of a series is the sum of its looks', and so are its plants."""
    checked = 0
    for unit in week.units:
        for line in unit.lines:
            series = line.series
            if series.per != "per_plant" or series.total is None:
                continue
            with session(*demo_operation) as s:
                found = behind(s, series.key, series.on)
            assert sum(look.number for look in found.looks if look.how) == series.total
            assert sum(look.plants for look in found.looks) == series.units_sampled
            assert len(found.looks) == series.looks
            checked += 1
    assert checked >= 20


def test_a_card_opens_the_reading_it_was_counted_on(signed_in, week):
    line = next(x for u in week.units for x in u.lines if x.method == "yellow_card")
    answer = signed_in("advisor").get(looks_address(line.series))
    assert answer.status_code == 200
    assert "card " in Text(answer.text).text


@pytest.mark.parametrize("locale", LOCALES)
def test_every_number_of_the_week_opens_its_looks(signed_in, locale):
    grower = signed_in("grower")
    source = grower.get(f"/?lang={locale}").text
    links = set(re.findall(r'data-key="[^"]+" href="([^"]+)"', source))
    assert len(links) > 15
    for link in sorted(links)[:8]:
        answer = grower.get(link.replace("&amp;", "&"))
        assert answer.status_code == 200
        assert "/ledger/" in answer.text


def test_a_look_says_who_when_and_which_plant(signed_in, demo_operation, week):
    line = next(
        x for u in week.units for x in u.lines if x.series.per == "per_plant" and x.series.total
    )
    with session(*demo_operation) as s:
        found = behind(s, line.series.key, line.series.on)
    text = Text(signed_in("grower").get(looks_address(line.series)).text).text
    for look in found.looks:
        assert look.by in text
        assert f"plant {look.position}" in text
    assert f"{len(found.looks)} looks make this number" in text


def test_the_filter_in_the_address_keeps_to_one_person_and_to_finds(signed_in, week):
    line = next(
        x
        for u in week.units
        for x in u.lines
        if x.series.infested and x.series.infested < x.series.looks
    )
    address = looks_address(line.series)
    text = Text(signed_in("grower").get(f"{address}&found=true").text).text
    assert f"Shown: {line.series.infested} of {line.series.looks}." in text
    nobody = Text(signed_in("grower").get(f"{address}&by=nobody").text).text
    assert f"Shown: 0 of {line.series.looks}." in nobody


def test_a_look_that_found_none_says_looked_none_and_no_bare_zero(signed_in, week):
    line = next(
        x
        for u in week.units
        for x in u.lines
        if x.series.infested is not None and x.series.infested < x.series.looks
    )
    source = signed_in("grower").get(looks_address(line.series)).text
    cells = re.findall(r'<td role="cell">(?:<i class="in-cell">[^<]*</i>)?<b>(.*?)</b>', source)
    zeros = [cell for cell in cells if cell.startswith("0")]
    assert zeros
    assert set(zeros) <= {say("page.count_none", "en"), say("page.count_none_at_all", "en")}


@pytest.mark.parametrize(
    "change", [{"unit": str(uuid.uuid4())}, {"pest": "no_such"}, {"on": "2001-01-01"}]
)
def test_looks_that_are_not_there_are_no_page(signed_in, week, change):
    key = week.units[0].lines[0].series.key
    asked = {
        "unit": str(key.unit_id),
        "pest": key.taxon,
        "stage": key.stage,
        "method": key.method,
        "on": week.units[0].on.isoformat(),
    }
    assert signed_in("grower").get("/looks", params=asked).status_code == 200
    assert signed_in("grower").get("/looks", params=asked | change).status_code == 404


def reading(behind, n, fresh):
    """The first look of a card as one that counted ``n`` since it hung, ``fresh`` of them new."""
    look = replace(behind.looks[0], counted="all", how="counted", number=n)
    catch = next(c for c in behind.known.catches if c.station == look.card)
    key, on = behind.series.key, behind.series.on
    named = {"taxon": key.taxon, "stage": key.stage, "method": key.method, "walk_on": on}
    known = replace(behind.known, catches=[replace(catch, fresh=fresh, **named)])
    return replace(behind, looks=(look,), known=known)


@pytest.mark.parametrize("locale", LOCALES)
def test_of_a_card_counted_whole_the_page_says_what_is_new_since_that_is_the_number(
    demo_operation, week, locale
):
    """Hand-worked: 9 hang there and 7 did before, so 2 are new; 5 after 7 add nothing."""
    line = next(x for u in week.units for x in u.lines if x.method == "yellow_card")
    with session(*demo_operation) as s:
        held = behind(s, line.series.key, line.series.on)
    more, fell, same = (reading(held, n, fresh) for n, fresh in ((9, 2), (5, None), (9, 9)))
    assert [b.counts(b.looks[0]) for b in (more, fell, same)] == [2, None, 9]
    words = [behind_words(b, locale).rows[0].count for b in (more, fell, same)]
    assert words == [
        say("page.count_fresh", locale, fresh=2, all=9),
        say("page.count_fell", locale, all=5),
        "9",
    ]
