"""The page of a week that was read before says what a server that never read it says."""

from __future__ import annotations

from contextlib import ExitStack

import pytest

from benchwalk.records.database import session
from benchwalk.report.row_words import page_words
from benchwalk.summarise import summarise
from benchwalk.summarise.rows import Wanted, week_rows
from benchwalk.web import Served, create_app, kept_words, week_pages
from tests.report.a_summary import a_summary
from tests.web.conftest import asking, listening, token_of
from tests.week.test_a_kept_week import WRITES, a_phone_that_holds_counts, walked

__all__ = ["walked"]  # a fixture


@pytest.fixture
def read(walked):
    """``read(path)``: the page of one server; ``read(path, anew=True)`` of a server just begun."""
    token = token_of(walked.engine, walked.n, "grower")
    with ExitStack() as held:

        def begun():
            app = create_app(Served(walked.engine, walked.n))
            return held.enter_context(asking(held.enter_context(listening(app)), token))

        lasting = begun()
        yield lambda path, *, anew=False: (begun() if anew else lasting).get(path).text


def test_the_page_after_every_kind_of_write_is_that_of_a_server_just_begun(walked, read):
    """Read in another language first: what is ahead is then known, and the words are old ones."""
    before = read("/?lang=en")
    for write in (*WRITES, a_phone_that_holds_counts):
        write(walked)
        read("/?lang=es")
        after = read("/?lang=en")
        assert after == read("/?lang=en", anew=True), write.__name__
        assert after != before, f"{write.__name__} changes what the page says"
        before = after


def test_a_week_is_said_once_a_language_and_choice_as_long_as_nothing_is_recorded(
    walked, read, monkeypatch
):
    asked = []

    def noted(rows, locale):
        asked.append((rows.wanted.house, locale))
        return page_words(rows, locale)

    monkeypatch.setattr(week_pages, "page_words", noted)
    paths = ("/?lang=en", "/?lang=es", "/?lang=es&house=Glass+House")
    first = [read(path) for path in paths]
    assert [read(path) for path in paths] == first
    assert asked == [("", "en"), ("", "es"), ("Glass House", "es")]


def test_the_first_reader_of_a_server_that_read_once_by_itself_waits_for_nothing(
    walked, read, monkeypatch
):
    served = Served(walked.engine, walked.n)
    week_pages.read_once(served)
    monkeypatch.setattr(week_pages, "page_words", None)  # whoever asks for it fails
    token = token_of(walked.engine, walked.n, "grower")
    with listening(create_app(served)) as url, asking(url, token) as first:
        shown = first.get("/?lang=en").text
    monkeypatch.undo()
    assert shown == read("/?lang=en", anew=True)


def test_a_server_that_reads_once_where_nobody_walked_yet_has_nothing_to_read(engine, operation):
    week_pages.read_once(Served(engine, operation))


def test_choices_and_languages_are_not_taken_for_one_another(walked, read):
    """Read one after the other by one server, and each by a server of its own."""
    paths = ("/?lang=en", "/?lang=es", "/?lang=en&house=Nowhere", "/?lang=en&pest=fungus_gnat")
    assert len({read(path) for path in paths}) == len(paths)
    assert [read(path) for path in paths] == [read(path, anew=True) for path in paths]


def test_words_of_a_week_that_names_no_row_of_the_ledger_are_not_kept():
    summary = a_summary()
    rest = kept_words.of(summary, Wanted(), "en")
    words, kept = page_words(week_rows(summary)), kept_words.KeptWords()
    assert kept.keep(rest, words) is words
    assert kept.held(rest) is None


def test_only_the_words_read_last_are_kept(walked):
    with session(walked.engine, walked.n) as s:
        summary = summarise(s)
    kept, words = kept_words.KeptWords(), page_words(week_rows(summary))
    rests = [kept_words.of(summary, Wanted(house=str(n)), "en") for n in range(kept_words.MOST + 1)]
    for rest in rests:
        kept.keep(rest, words)
    assert [kept.held(rest) is None for rest in rests] == [True, *[False] * kept_words.MOST]
