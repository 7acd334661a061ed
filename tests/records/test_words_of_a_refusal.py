"""What a database refuses is said in the reader's language, on both databases alike."""

from __future__ import annotations

import pytest
from sqlalchemy.exc import DataError, IntegrityError

import benchwalk.records as r
from benchwalk.catalogue import Refusal, Sentence, strings
from benchwalk.records.refused import IN_CATALOGUE, sentence_of, sentences, words_of

OF_NO_RULE = {f"{IN_CATALOGUE}{name}" for name in ("check", "rev_over", "twice")}


def test_every_rule_has_its_sentence_in_the_catalogue_and_no_sentence_is_of_no_rule():
    held = {k: t["en"] for k, t in strings().items() if k.startswith(IN_CATALOGUE)}
    of_rules = {k: text for k, text in held.items() if k not in OF_NO_RULE}
    assert held.keys() - of_rules.keys() == OF_NO_RULE
    assert sorted(of_rules.values()) == sorted(sentences())


def refusal(write) -> Sentence:
    with pytest.raises((IntegrityError, DataError)) as refused:
        write()
    return words_of(sentence_of(refused.value))


def test_a_broken_rule_is_said_in_the_readers_language(small):
    walk, _ = small.walk(state="skipped", reason="sign is up")
    words = refusal(lambda: small.look(walk))
    assert words.said("en") == "a skipped unit has no looks"
    assert words.said("es") == "una unidad saltada no tiene revisiones"


def test_a_check_of_the_database_is_named_alike_on_both(small):
    walk, _ = small.walk()
    words = refusal(lambda: small.look(walk, plants=-1))
    assert words.said("es") == ("una comprobación de la base de datos (ck_observation_look)")


def test_a_second_of_what_there_is_one_of_is_said_alike_on_both(small):
    walk, _ = small.walk()
    again = r.Visit(walk_id=walk.id, unit_id=small.unit.id, state="done")
    words = refusal(lambda: small.add(again))
    assert words.said("en") == "the records have one like it already"
    assert words.said("es") == "los registros ya tienen uno igual"


def test_words_within_a_refusal_are_said_in_its_language():
    fault = Refusal("paper.refused", why=words_of("a place has no plantings"))
    assert str(fault).startswith("The records do not allow it: a place has no plantings.")
    assert "un lugar no tiene plantaciones" in fault.said("es")
