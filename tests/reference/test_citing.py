"""How pages name a source, the bibliography, and the command that prints and checks."""

import re
from pathlib import Path

import pytest

from benchwalk.reference import NoSuchKey, bibliography, cite, sources
from benchwalk.reference import __main__ as command

PAGE = Path(__file__).parents[2] / "docs" / "references.md"


def test_a_source_that_was_read_is_named_by_author_year_and_title():
    assert cite("Rettke2009", "seen") == (
        "Rettke S.K. 2009: Pest Counts and Action Thresholds in the Greenhouse"
    )


@pytest.mark.parametrize(
    ("status", "english", "spanish"),
    [
        ("memory", " (from memory)", " (de memoria)"),
        ("weak", " (weak source)", " (fuente débil)"),
        ("computed", " (recomputed)", " (recalculado)"),
        ("seen", "", ""),
        ("own", "", ""),
    ],
)
def test_a_fact_that_is_less_than_seen_says_so(status, english, spanish):
    named = "Casey C. et al. 2007: integrated pest management in cut roses"
    assert cite("Casey2007", status) == named + english
    assert cite("Casey2007", status, "es") == named + spanish


def test_two_authors_are_named_and_more_are_others():
    assert cite("ShippGillespie1993", "seen").startswith("Shipp & Gillespie 1993: ")
    assert cite("Shipp2000", "seen").startswith("Shipp J.L. et al. 2000: ")


def test_an_unknown_author_is_left_out_and_not_printed_as_a_name():
    assert cite("CucumberWhitefly2009", "seen").startswith("2009: A tentative economic")


def test_an_undated_source_has_no_year():
    assert cite("UMassBMP", "seen") == "UMass Extension: Greenhouse BMP manual, IPM checklist"


def test_general_knowledge_is_named_as_such():
    assert cite("Untraced", "memory").startswith("general knowledge: ")


def test_a_source_that_is_not_there_is_refused():
    with pytest.raises(NoSuchKey, match=r"sources.csv has no source_key 'Rettke2010'; near it: R"):
        cite("Rettke2010", "seen")


def test_the_page_of_references_is_up_to_date():
    """After a change of sources.csv: python -m benchwalk.reference --bibliography > docs/..."""
    assert PAGE.read_text(encoding="utf-8") == bibliography()


def test_every_source_stands_on_the_page_once_and_says_how_it_was_read():
    entries = re.findall(r"^- \*\*(\w+)\*\* \((seen|abstract|not seen)\) ", bibliography(), re.M)
    words = {"yes": "seen", "abstract": "abstract", "no": "not seen"}
    assert entries == [(s.source_key, words[s.seen]) for s in sources()]


def test_the_page_counts_how_the_sources_were_read():
    seen, abstract, unseen = (
        sum(s.seen == how for s in sources()) for how in ("yes", "abstract", "no")
    )
    assert f"{seen} seen, {abstract} abstract, {unseen} not seen." in bibliography()
    assert seen + abstract + unseen == len(sources())


def test_the_command_prints_the_bibliography(capsys):
    assert command.main(["--bibliography"]) == 0
    assert capsys.readouterr().out == bibliography()


def test_the_command_says_that_the_tables_are_sound(capsys):
    assert command.main([]) == 0
    assert re.fullmatch(r"\d{4} rows in 47 tables are sound\n", capsys.readouterr().out)


def test_the_command_prints_each_fault_and_fails(capsys, monkeypatch):
    monkeypatch.setattr(command, "check_tables", lambda: ["one.csv is missing", "two"])
    assert command.main([]) == 1
    assert capsys.readouterr().out == "one.csv is missing\ntwo\n"
