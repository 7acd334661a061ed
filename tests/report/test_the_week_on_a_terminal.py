"""The week on a terminal: 80 columns and wider, names whole, no colour needed."""

from __future__ import annotations

import io
import re

import pytest
from rich.console import Console

from benchwalk.catalogue import LOCALES
from benchwalk.report.terminal import week_table
from benchwalk.report.words import week_words
from tests.report import a_summary as made
from tests.report.a_summary import a_summary


def printed(locale: str, width: int, **console: object) -> str:
    out = io.StringIO()
    options = {"file": out, "width": width, "force_terminal": False, "color_system": None}
    Console(**(options | console)).print(week_table(a_summary(), locale))
    return out.getvalue()


@pytest.mark.parametrize("width", [60, 80, 100, 160])
@pytest.mark.parametrize("locale", LOCALES)
def test_no_row_is_wider_than_the_terminal(locale, width):
    assert max(len(row) for row in printed(locale, width).splitlines()) <= width


@pytest.mark.parametrize("width", [80, 160])
@pytest.mark.parametrize("locale", LOCALES)
def test_nothing_is_cut_off_with_dots(locale, width):
    text = printed(locale, width)
    assert "…" not in text
    assert "..." not in text


@pytest.mark.parametrize("width", [80, 160])
@pytest.mark.parametrize("locale", LOCALES)
def test_every_word_of_every_name_is_there_at_any_width(locale, width):
    shown = set(printed(locale, width).split())
    week = week_words(a_summary(), locale)
    names = [u.name for group in week.groups for u in group.units]
    names += [line.pest for group in week.groups for u in group.units for line in u.all_lines]
    for name in names:
        for word in name.split():
            assert {word, f"{word},", f"{word}."} & shown, word


def test_a_long_name_is_wrapped_and_stands_whole():
    text = re.sub(r"\s+", " ", printed("es", 80))
    assert f"{made.LONG_HOUSE} / {made.LONG_UNIT}" in text


@pytest.mark.parametrize("locale", LOCALES)
def test_units_stand_by_need_those_over_first_and_those_with_none_last(locale):
    text = re.sub(r"\s+", " ", printed(locale, 80))
    order = ["Bay 4", "Bench row 5", "Bench row 6", "Bench row 9", "Bench row 3", "Mist bed 1"]
    places = [
        text.index(f"/ {name} ") if name != "Bench row 9" else text.index(name) for name in order
    ]
    assert places == sorted(places)


def test_the_text_is_the_same_with_and_without_colour():
    colour = printed("en", 80, force_terminal=True, color_system="truecolor")
    assert "\x1b[" in colour
    assert re.sub(r"\x1b\[[\d;]*m", "", colour) == printed("en", 80)


def test_what_somebody_wrote_is_never_taken_for_markup_or_a_terminal_command():
    hostile = a_summary(operation="[bold]Nursery[/bold]\x1b[2J")
    out = io.StringIO()
    Console(file=out, width=80, force_terminal=False).print(week_table(hostile))
    assert "[bold]Nursery[/bold]\ufffd[2J" in out.getvalue()


@pytest.mark.parametrize("locale", LOCALES)
def test_the_state_of_every_line_is_a_word_in_its_row(locale):
    week = week_words(a_summary(), locale)
    flat = re.sub(r"\s+", " ", printed(locale, 200))
    for group in week.groups:
        for unit in group.units:
            for line in unit.all_lines:
                assert line.state_word in flat


def test_the_cautions_stand_at_the_end():
    assert printed("en", 80).rstrip().endswith("Check the rule. benchwalk gives no legal advice.")
