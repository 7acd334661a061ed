"""The head of the week says when a copy was last proven, on the operation's own clock."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from benchwalk.catalogue import LOCALES, say
from benchwalk.report.proven_words import proven_words
from benchwalk.web import Served, create_app
from tests.web.conftest import asking, listening, token_of

NEW_YORK = ZoneInfo("America/New_York")
NOW = dt.datetime(2026, 5, 7, 16, tzinfo=dt.UTC)  # noon there


@pytest.mark.parametrize(
    ("at", "said"),
    [
        (dt.datetime(2026, 5, 7, 6, 10, tzinfo=dt.UTC), "Last proven copy: 02:10 today."),
        (dt.datetime(2026, 5, 7, 3, 59, tzinfo=dt.UTC), "Last proven copy: Wed 6 May, 23:59."),
        (dt.datetime(2025, 5, 7, 6, 10, tzinfo=dt.UTC), "Last proven copy: Wed 7 May 2025, 02:10."),
    ],
)
def test_the_day_is_that_of_the_operation(at, said):
    assert proven_words(at, NOW, NEW_YORK, "en") == said


@pytest.mark.parametrize("locale", LOCALES)
def test_no_copy_is_said_with_what_to_do(locale):
    assert proven_words(None, NOW, NEW_YORK, locale) == say("page.proven_none", locale)
    assert "benchwalk backup" in proven_words(None, NOW, NEW_YORK, locale)


def test_the_week_shows_it(demo_operation):
    at = dt.datetime(2025, 5, 7, 6, 10, tzinfo=dt.UTC)
    app = create_app(Served(*demo_operation, last_proven=lambda: at))
    with listening(app) as url, asking(url, token_of(*demo_operation)) as manager:
        assert "Last proven copy: Wed 7 May 2025" in manager.get("/?lang=en").text
        assert manager.get("/health/ready").json()["copy_proven_at"] == at.isoformat()
