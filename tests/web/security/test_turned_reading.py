"""A name that turns the reading of what stands beside it (bidirectional override).

Which signs turn it: the list of Bidi_Control (Unicode Standard Annex 9, 2; the Character Database's
PropList.txt), typed here by hand.
"""

from __future__ import annotations

import re

from hypothesis import given
from hypothesis import strategies as st

from benchwalk.web.straight import TURNS, straight
from tests.in_turn import each_of

BIDI_CONTROL = [0x61C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A)]


def test_every_sign_that_turns_the_reading_is_on_the_list():
    assert {chr(n) for n in BIDI_CONTROL} <= set(TURNS)


@each_of("sign", sorted(TURNS))
def test_a_sign_that_turns_the_reading_is_replaced_between_tags(sign):
    assert straight(f"<b>Bench {sign}21</b> {sign}") == "<b>Bench \ufffd21</b> \ufffd"


def test_a_value_of_a_field_comes_back_as_it_was_sent():
    source = '<option value="A\u202e">A\u202e</option>'
    assert straight(source) == '<option value="A\u202e">A\ufffd</option>'


def test_a_page_without_such_signs_is_the_very_same():
    source = "<p>Bench\u00a04, \u00e1\u00f1o \u2014 \u0645\n\t</p>"
    assert straight(source) is source


@given(st.text())
def test_nothing_between_tags_turns_the_reading_and_nothing_else_is_lost(text):
    told = straight(f"<p>{text.replace('<', '&lt;').replace('>', '&gt;')}</p>")
    assert not set(TURNS) & set(told)
    assert len(told) == len(text) + 7 + 3 * len(re.findall("[<>]", text))
