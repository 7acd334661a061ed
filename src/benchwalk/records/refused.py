"""What a database says when it refuses a row, in words for a person, in any language."""

from __future__ import annotations

import re
from functools import cache

from sqlalchemy import Table
from sqlalchemy.exc import DataError, IntegrityError

from benchwalk.catalogue import Sentence, strings
from benchwalk.records.base import Base
from benchwalk.records.rules import RULES, kept

IN_CATALOGUE = "rule."
LONGEST = 200  # of what a database says besides [characters]
TWICE = re.compile(r"unique constraint", re.IGNORECASE)  # as both databases begin to say it
# CHECK constraint failed: NAME; violates check constraint "NAME"
NAMED = re.compile(r"constraint failed: (.+)|constraint \"([^\"]+)\"")


@cache
def sentences() -> frozenset[str]:
    """What the rules say, all of them."""
    tables: tuple[Table, ...] = tuple(Base.metadata.sorted_tables)
    rules = [*RULES, *(rule for table in tables for rule in kept(table))]
    return frozenset(rule.sentence.replace("''", "'") for rule in rules)


def sentence_of(refused: IntegrityError | DataError) -> str:
    """The rule's own sentence, in English; else what the database calls the check."""
    first = str(refused.orig).splitlines()[0]
    return next((s for s in sentences() if s in first), first[:LONGEST])


def words_of(sentence: str) -> Sentence:
    """A sentence of :func:`sentence_of`, to be said in any language."""
    key = _keys().get(sentence)
    if key is not None:
        return Sentence(key)
    if TWICE.search(sentence):
        return Sentence(f"{IN_CATALOGUE}twice")
    named = NAMED.search(sentence)
    return Sentence(f"{IN_CATALOGUE}check", name=(named[1] or named[2]) if named else sentence)


@cache
def _keys() -> dict[str, str]:
    return {texts["en"]: key for key, texts in strings().items() if key.startswith(IN_CATALOGUE)}
