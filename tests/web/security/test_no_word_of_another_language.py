"""A string that is missing in Spanish: each page in both languages, which share no word of ours.

What both may show alike is a name of the records, a name of a file, or a string that the catalogue
itself spells alike in both.
"""

from __future__ import annotations

import re
from urllib.parse import parse_qsl, urlsplit

import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.catalogue import strings
from benchwalk.records.database import session
from tests.web.security.every_page import route_of
from tests.web.security.markup import MARK, Markup

A_WORD = re.compile(r"[^\W\d_]{3,}")
FIXED = {"benchwalk", "a test"}  # the name of the program, and of this browser
# a file, and what is asked of a command, are spelled so in any language
A_FILE = re.compile(r"[\w-]+\.(zip|xlsx|pdf|html)|--[\w-]+")
NOT_READ = {
    "/ledger/{record}": "shows what was said, in the language it was said in",
}


@pytest.fixture(scope="module")
def names(planted):
    """Names in the records that are no attack."""
    with session(planted.engine, planted.operation) as s:
        found = {*s.scalars(sa.select(r.Unit.name)), *s.scalars(sa.select(r.House.name))}
        for model in (r.Taxon, r.Stage, r.Method, r.Crop):
            for held in s.scalars(sa.select(model.names)):
                found |= {str(name).casefold() for name in held.values()}
    return found | {name.casefold() for name in found}


def spelled_alike():
    """Strings that the catalogue has alike in both languages, whatever stands in their places."""
    alike = (held["en"] for held in strings().values() if held["en"] == held["es"])
    # one that is nothing but places for others would let everything pass
    alike = (text for text in alike if A_WORD.search(re.sub(r"{\w+}", "", text)))
    return [
        re.compile(re.sub(r"\\{\w+\\}", ".*", re.escape(text)), re.IGNORECASE) for text in alike
    ]


def words_of(source):
    return {text.strip() for text in Markup(source).texts if A_WORD.search(text)}


def test_no_page_shows_the_same_words_in_english_and_in_spanish(
    planted_office, planted_pages, names
):
    one_of_each = {}
    for address, answer in planted_pages.items():
        if answer.status_code == 200 and not address.startswith("/link/"):
            one_of_each.setdefault(route_of(address), address)
    alike, left = spelled_alike(), {}
    for address in (a for route, a in one_of_each.items() if route not in NOT_READ):
        both = [
            words_of(planted_office.get(address, params=_asked(address, lang)).text)
            for lang in ("en", "es")
        ]
        assert all(len(words) > 5 for words in both)
        own = {text for text in both[0] & both[1] if MARK not in text} - FIXED
        left |= {
            text: address
            for text in own
            if text.casefold() not in names
            and not A_FILE.fullmatch(text)
            and not any(pattern.fullmatch(text) for pattern in alike)
        }
    assert len(one_of_each) >= 18
    assert left == {}


def _asked(address, lang):
    """What an address asks for, and the language."""
    return dict(parse_qsl(urlsplit(address).query)) | {"lang": lang}
