"""Every string a person reads stands in the catalogue, in both languages, and is used."""

from __future__ import annotations

import ast
import re
import string
from pathlib import Path

import pytest

from benchwalk import reference, report, web
from benchwalk.catalogue import LOCALES, strings
from benchwalk.report.line_words import STATES
from benchwalk.report.names import Names
from benchwalk.report.targets import FACE, LOOKS
from benchwalk.report.words import CAUTIONS, NEED
from benchwalk.summarise.thresholds import ACTS, PRECEDENCE
from benchwalk.web.counted import NO_QUERY
from benchwalk.web.sync import SENT
from tests.in_turn import each_of
from tests.report.a_summary import a_summary

REPORT = Path(report.__file__).parent
WEB = Path(web.__file__).parent
MINE = ("week.", "report.", "state.", "abs.", "reason.", "caut.", "page.")
WORDS_OF_THE_WEEK = sorted(k for k in strings() if k.startswith(MINE))


def placeholders(text: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}


def test_every_string_has_both_languages():
    empty = [k for k, texts in strings().items() if not all(texts[loc].strip() for loc in LOCALES)]
    assert empty == []


def test_the_placeholders_of_a_string_are_the_same_in_both_languages():
    differ = [k for k, t in strings().items() if placeholders(t["en"]) != placeholders(t["es"])]
    assert differ == []


def test_a_plural_has_both_forms():
    ones = [k.removesuffix(".one") for k in WORDS_OF_THE_WEEK if k.endswith(".one")]
    assert ones
    assert [k for k in ones if f"{k}.other" not in strings()] == []


def test_no_string_shouts_or_has_stray_spaces():
    texts = [text for k in WORDS_OF_THE_WEEK for text in strings()[k].values()]
    assert [t for t in texts if re.search("[!¡]|  ", t) or t != t.strip()] == []


def test_a_per_cent_sign_after_a_figure_does_not_break_from_it():
    """But in the rules of the database, whose sentences stand there letter by letter."""
    told = {k: "".join(t.values()) for k, t in strings().items() if not k.startswith("rule.")}
    assert [k for k, text in told.items() if re.search(r"[\d}] %", text)] == []


def test_a_question_in_spanish_has_both_marks():
    assert [k for k, t in strings().items() if t["es"].count("?") != t["es"].count("¿")] == []


#: words that the glossary keeps for something else, or bans: surgery, the label's signal word, a
#: cheque, an empty thing, a nought; a version is no "rev", which reads as a look (*revisión*)
NOT_OURS = re.compile(r"\b(operaci(ón|ones)|avisos?|cheques?|chequear|nul[oa]|revs?)\b", re.I)
#: who is spoken to as *tú* by a page that says *usted*
TOO_NEAR = re.compile(r"\b(tú|tu|tus|ti|puedes|tienes|quieres|haz|pon)\b", re.I)


def test_spanish_keeps_to_the_words_of_the_trade_and_to_usted():
    told = {k: re.sub(r"{\w+}", "", t["es"]) for k, t in strings().items()}
    assert [k for k, text in told.items() if NOT_OURS.search(text)] == []
    assert [k for k, text in told.items() if TOO_NEAR.search(text)] == []


def constants(source: str) -> set[str]:
    """Whole strings of a piece of code, and the beginnings of those put together from parts."""
    tree = ast.parse(source)
    whole = {n.value for n in ast.walk(tree) if isinstance(n, ast.Constant)}
    begun = {
        f"{node.values[0].value}*"
        for node in ast.walk(tree)
        if isinstance(node, ast.JoinedStr) and isinstance(node.values[0], ast.Constant)
    }
    return {text for text in whole | begun if isinstance(text, str)}


BY_CODE = ("week.per", "reason")


def is_asked_for(key: str, asked: set[str]) -> bool:
    plain = re.sub(r"(?<!^reason)\.(one|other)$", "", key)
    group = plain.rsplit(".", 1)[0]
    begun = (plain[:i] + "*" for i in range(len("week."), len(plain)))
    return (
        plain in asked
        or plain.removesuffix("_unknown") in asked
        or (group in BY_CODE and group in asked)
        or any(start in asked for start in begun)
    )


def test_every_string_of_the_week_is_asked_for_somewhere():
    asked = set()
    for path in sorted(REPORT.parent.rglob("*.py")):
        asked |= constants(path.read_text(encoding="utf-8"))
    for path in sorted((WEB / "templates").glob("*.html")):
        asked |= set(re.findall(r't\("([^"]+)"', path.read_text(encoding="utf-8")))
    titles = {f"page.{what}_title" for what in ("not_found", "refused", "failed")}
    asked |= titles  # put together in error.html
    assert [key for key in WORDS_OF_THE_WEEK if not is_asked_for(key, asked)] == []


def test_a_string_nobody_asks_for_would_be_seen():
    asked = constants('say("week.walked")\nsay(f"week.head.{state}")\n')
    assert is_asked_for("week.walked", asked)
    assert is_asked_for("week.head.over", asked)
    assert not is_asked_for("week.dates", asked)


@each_of("state", [*NEED, "enemy"])
def test_every_state_has_its_word(state):
    assert STATES[state] in strings()


@each_of("state", NEED)
def test_every_state_of_a_unit_has_its_place_in_the_headline_and_says_what_it_means(state):
    assert f"week.head.{state}" in strings()
    assert state == "not_looked" or f"week.group.{state}" in strings()


def test_every_word_of_a_threshold_is_in_the_catalogue():
    for kind in ACTS:
        assert f"week.kind.{kind}" in strings()
    for rule in PRECEDENCE:
        assert f"week.precedence.{rule}" in strings()
    for why in ("taxon", "stage", "method", "quantity", "age", "phase"):
        assert f"week.unlike.{why}" in strings()


@pytest.mark.parametrize("locale", LOCALES)
def test_every_phase_and_thing_counted_of_the_reference_has_its_name(locale):
    names = Names(a_summary().known, locale)
    for phase in reference.phases():
        assert names.phase(phase.phase_key) == (phase.name_es if locale == "es" else phase.name)
    for unit in reference.sampling_units():
        said = unit.name_es if locale == "es" else unit.name
        assert names.item(unit.sampling_unit_key) == said
    assert names.phase("second_flush") == "second flush"  # one of the operation's own


def test_every_quantity_of_the_reference_has_words():
    items = {u.sampling_unit_key for u in reference.sampling_units()}
    for quantity in reference.quantity_kinds():
        key = quantity.quantity_kind
        assert f"week.per.{key}" in strings() or key.removeprefix("per_") in items, key


def test_the_cautions_are_the_four_a_report_owes_and_the_sentence_on_the_law():
    english = " ".join(strings()[key]["en"] for key in CAUTIONS)
    for wanted in (
        "label is the law",
        "licensed or certified",
        "may be stricter",
        "starting points",
    ):
        assert wanted in english


def sentences_in(source: str) -> list[str]:
    """Literals that a person could read: two words or more, and no docstring or error."""
    tree = ast.parse(source)
    skipped = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Raise) or (
            isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
        ):
            skipped |= {id(inner) for inner in ast.walk(node)}
    return [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant)
        and isinstance(node.value, str)
        and id(node) not in skipped
        and re.search(r"[A-Za-zÁ-ú]{2,} [A-Za-zÁ-ú]{2,}", re.sub(r"<[^>]*>?", "", node.value))
    ]


# what the description of the phone's routes says to programmers
TO_PROGRAMS = (*(said["description"] for said in SENT.values()), "the plan")
# date patterns, a style, classes of a picture, a typeface
NOT_FOR_READERS = ("EEE d MMM", "EEE d MMM y", "bold red", *LOOKS, FACE, *TO_PROGRAMS, *NO_QUERY)


@each_of("path", sorted([*REPORT.glob("*.py"), *WEB.glob("*.py")]))
def test_no_sentence_stands_in_the_code(path):
    found = sentences_in(path.read_text(encoding="utf-8"))
    assert [text for text in found if text not in NOT_FOR_READERS] == []


@each_of("path", sorted((WEB / "templates").glob("*.html")))
def test_no_word_stands_in_a_template_but_the_name_of_the_project(path):
    text = re.sub(r"{[{%#].*?[%}#]}", " ", path.read_text(encoding="utf-8"), flags=re.DOTALL)
    text = re.sub(r"<[^>]*>", " ", text)
    assert set(re.findall(r"[^\W\d_]{2,}", text)) <= {"benchwalk"}


def test_a_sentence_in_code_or_template_would_be_seen():
    assert sentences_in('x = "Walk now please"\n') == ["Walk now please"]
    assert sentences_in('def f():\n    """Not this one."""\n') == []
