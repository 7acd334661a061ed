"""Two cards that hung at one station one after the other are two cards in the looks, too."""

from __future__ import annotations

import datetime as dt

import benchwalk.records as r
from benchwalk.records.database import session
from benchwalk.summarise import Key
from benchwalk.summarise.looks import behind

TENTH = dt.datetime(2026, 3, 10, 9, tzinfo=dt.UTC)
THRIPS = "western_flower_thrips", "adult", "yellow_card"


def reading(small, card, at, number, **kw):
    walk, _ = small.walk(at.date()) if "walk" not in kw else (kw["walk"], None)
    counted = [r.Tally(taxon="western_flower_thrips", stage="adult", number=number)]
    examined = [r.Examined(method="yellow_card", items=40, of_items=40, tallies=counted)]
    small.look(
        walk, kind="reading", card_id=card.id, seen_at=at,
        counted="all", since="hung", state="ok", plants=0, examined=examined,
    )  # fmt: skip
    return walk


def test_what_is_new_on_each_of_two_cards_read_on_one_day_adds_up_to_the_number(small):
    """Hand-worked: the first card held 5 and holds 9, so 4 are new; the one after it holds 2."""
    reading(small, small.card, TENTH - dt.timedelta(days=3), 5)
    walk = reading(small, small.card, TENTH, 9)
    small.card.taken_at = TENTH
    small.s.commit()
    after = small.add(r.Card(station_id=small.station.id, method="yellow_card", hung_at=TENTH))
    reading(small, after, TENTH + dt.timedelta(hours=6), 2, walk=walk)
    with session(small.s.get_bind(), small.n) as s:
        found = behind(s, Key(small.unit.id, *THRIPS), TENTH.date())
    assert [found.counts(look) for look in found.looks] == [4, 2]
    assert found.series.total == 6
