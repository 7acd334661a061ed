"""Every field and every code that a record can hold has its word: none is shown as it is stored.

Oracle: the tables of the records themselves, their columns and their lists of states.
"""

from __future__ import annotations

import re
from zoneinfo import ZoneInfo

import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.catalogue import LOCALES, strings
from benchwalk.report.ledger_words import CODED, body_words
from benchwalk.report.record_words import coded, colour_word, kind_words

AMONG = re.compile(r"^(\w+) IN \(([^()]*)\)$")
SAID = [t for t in r.Base.metadata.sorted_tables if t.info.get("kind") in ("record", "line")]


def states():
    """(table, field, code) of every closed list of states."""
    for table in SAID:
        for rule in table.constraints:
            found = AMONG.match(str(getattr(rule, "sqltext", "")))
            if found:
                yield from ((table.name, found[1], c) for c in re.findall(r"'(\w+)'", found[2]))


def test_every_column_of_every_record_has_its_word():
    kept = {"operation_id", "id", "rev", "n"}  # of the ledger and of lines; no page shows them
    columns = {column.name for table in SAID for column in table.columns} - kept
    assert len(columns) > 80
    assert [c for c in sorted(columns) if f"page.field.{c}" not in strings()] == []


@pytest.mark.parametrize("locale", LOCALES)
def test_every_state_of_every_list_has_its_word(locale):
    held = list(states())
    assert len(held) > 80
    assert [x for x in held if x[1] not in CODED or not coded(x[1], x[2], locale)] == []


def test_every_kind_of_record_has_its_name():
    records = [t.name for t in SAID if t.info["kind"] == "record"]
    assert [kind for kind in records if f"report.record.{kind}" not in strings()] == []


def test_a_code_nobody_knows_has_no_word_and_words_of_a_person_are_left_alone():
    assert coded("phase", "no_such_phase", "en") == ""
    assert coded("source", "a neighbour", "en") == ""
    assert "note" not in CODED


def test_a_flag_has_its_colour_in_the_readers_language_and_an_own_word_stays():
    assert (colour_word("red", "en"), colour_word("red", "es")) == ("red", "roja")
    assert colour_word("con rayas", "es") == "con rayas"


def test_a_record_says_where_and_when_before_what_and_what_began_before_what_ended():
    """Bodies have their fields by name, which would say the end first."""
    body = {"ended_at": "b", "examined": [], "fast": False, "started_at": "a", "unit_id": "u"}
    said = list(body_words(body, ZoneInfo("UTC"), {}, "en"))
    assert said == ["unit", "began", "ended", "fast"]


def test_a_reading_of_a_card_says_nothing_of_plants():
    body = {"kind": "reading", "plants": 0, "unit_id": "u"}
    assert "plants" not in body_words(body, ZoneInfo("UTC"), {}, "en")
    assert body_words(body | {"kind": "look"}, ZoneInfo("UTC"), {}, "en")["plants"] == "0"


def test_a_reading_is_told_from_a_look():
    assert kind_words("observation", "en", {"kind": "reading"}) == "reading of a card"
    assert kind_words("observation", "en") == "look or reading"


def test_the_lists_of_states_are_read_as_the_tables_say_them():
    """A second reading: the same words from the text of the rule as the database compiles it."""
    rule = next(c for c in sa.inspect(r.Visit).local_table.constraints if "state" in str(c.name))
    written = set(re.findall(r"'(\w+)'", str(rule.sqltext)))
    assert {code for table, field, code in states() if (table, field) == ("visit", "state")} == (
        written
    )
