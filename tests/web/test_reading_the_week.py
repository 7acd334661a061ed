"""The page over HTTP: in which language, with which headers, and what it refuses."""

from __future__ import annotations

import html
import logging
import re
from html.parser import HTMLParser

import httpx
import pytest

from benchwalk.catalogue import LOCALES
from benchwalk.report.row_words import page_words
from benchwalk.report.words import week_words
from benchwalk.summarise.rows import week_rows
from benchwalk.web import LOOPBACK
from tests.report import a_summary as made
from tests.report.a_summary import a_summary
from tests.web.conftest import served

PAGES = ["/", "/?lang=es", "/nowhere", "/static/benchwalk.css", "/health/ready"]


class Text(HTMLParser):
    """The text of a page, and its tags with their attributes."""

    def __init__(self, source: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(source)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.words.append(data)

    @property
    def text(self) -> str:
        return re.sub(r"\s+", " ", " ".join(self.words))


@pytest.mark.parametrize("locale", LOCALES)
def test_the_week_is_shown_in_the_language_asked_for(client, locale):
    answer = client.get(f"/?lang={locale}")
    assert answer.status_code == 200
    assert f'<html lang="{locale}">' in answer.text
    assert answer.headers["content-language"] == locale
    assert week_words(a_summary(), locale).dates in answer.text


@pytest.mark.parametrize(
    ("header", "locale"),
    [
        ("es-MX,es;q=0.9,en;q=0.5", "es"),
        ("en-US,en;q=0.9", "en"),
        ("en;q=0.3, es;q=0.8", "es"),
        ("fr-FR, es;q=0.2", "es"),
        ("en ; q=0.3 , es; Q=0.8", "es"),
        ("es;q=0, en;q=0.1", "en"),
        ("fr", "en"),
        ("", "en"),
        (";q=x,,*;;", "en"),
    ],
)
def test_without_a_language_in_the_address_the_browsers_own_is_taken(client, header, locale):
    answer = client.get("/", headers={"accept-language": header})
    assert answer.headers["content-language"] == locale
    assert "Accept-Language" in answer.headers["vary"].split(", ")


def test_a_language_in_the_address_goes_before_the_browsers_and_an_unknown_one_is_passed_over(
    client,
):
    spanish = {"accept-language": "es"}
    assert client.get("/?lang=en", headers=spanish).headers["content-language"] == "en"
    client.cookies.clear()  # it remembers what was asked for
    assert client.get("/?lang=xx", headers=spanish).headers["content-language"] == "es"


@pytest.mark.parametrize("locale", LOCALES)
def test_every_word_of_the_rows_is_on_the_page(client, locale):
    shown = Text(client.get(f"/?lang={locale}").text).text
    week = page_words(week_rows(a_summary()), locale)
    sentences = [week.week, week.dates, *week.standing, *(part.text for part in week.head)]
    for row in (row for group in week.groups for row in group.rows):
        sentences += [row.house, row.unit, row.crop, row.phase, row.pest, row.method, row.note]
        sentences += [row.span, row.due, row.due_word, row.no_strip]
        sentences += [figure.text for figure in (row.times, row.density) if figure]
    missing = [s for s in sentences if re.sub(r"\s+", " ", s).lower() not in shown.lower()]
    assert missing == []
    assert len(sentences) > 100


def test_hostile_names_are_text_and_never_markup(client):
    source = client.get("/").text
    assert html.escape(made.HOSTILE_HOUSE) in source
    page = Text(source)
    assert f"{made.HOSTILE_HOUSE} / {made.HOSTILE_UNIT}" in page.text
    assert {tag for tag, _ in page.tags}.isdisjoint({"iframe", "object", "img"})
    scripts = [attributes for tag, attributes in page.tags if tag == "script"]
    ours = (
        {"src": "/static/vendor/htmx.js", "defer": None},
        {"type": "module", "src": "/static/rows.js"},
    )
    assert scripts == list(ours)


def test_a_hostile_name_of_the_operation_stays_in_the_title():
    name = '</title><img src=x onerror="a()">'
    with served(lambda: a_summary(operation=name)) as url:
        source = httpx.get(url, trust_env=False).text
    assert "<img" not in source
    assert html.escape(name) in source.replace("&#34;", "&quot;")


@pytest.mark.parametrize("locale", LOCALES)
def test_no_style_or_script_is_written_into_the_page_and_nothing_is_asked_of_others(client, locale):
    page = Text(client.get(f"/?lang={locale}").text)
    for tag, attributes in page.tags:
        assert tag != "style"
        assert tag != "script" or attributes["src"].startswith("/static/")
        assert "style" not in attributes
        assert not any(name.startswith("on") for name in attributes)
        for name in ("href", "src"):
            address = attributes.get(name)
            assert address is None or address.startswith(("/", "?", "#")), address


@pytest.mark.parametrize("path", PAGES)
def test_every_answer_carries_the_headers_that_keep_it_to_itself(client, path):
    headers = client.get(path).headers
    policy = headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "script-src 'self';" in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"


def test_the_page_is_never_kept_by_the_browser(client):
    assert client.get("/").headers["cache-control"] == "no-store"


def test_a_name_that_is_not_loopback_is_refused(client):
    answer = client.get("/", headers={"host": "rebound.example"})
    assert answer.status_code == 400
    assert "Bench" not in answer.text


@pytest.mark.parametrize("host", [*LOOPBACK, "localhost:8753", "[::1]:8753"])
def test_loopback_names_are_answered_with_and_without_a_port(client, host):
    assert client.get("/", headers={"host": host}).status_code == 200


@pytest.mark.parametrize("locale", LOCALES)
def test_an_empty_operation_says_what_is_empty_and_what_to_do_next(empty, locale):
    answer = empty.get(f"/?lang={locale}")
    assert answer.status_code == 200
    assert "benchwalk import sheet.csv" in answer.text
    assert {"en": "Nobody has counted yet", "es": "Aún no hay conteos"}[locale] in answer.text
    assert "<table" not in answer.text


@pytest.mark.parametrize(
    ("locale", "words"),
    [("en", "There is no such page"), ("es", "Esa página no existe")],
)
def test_a_page_that_is_not_there_says_so_in_words(client, locale, words):
    answer = client.get(f"/bench/9?lang={locale}")
    assert answer.status_code == 404
    assert words in answer.text
    assert f'href="/?lang={locale}"' in answer.text


@pytest.mark.parametrize("method", ["post", "put", "delete"])
def test_the_page_takes_nothing_in(client, method):
    answer = getattr(client, method)("/")
    assert answer.status_code == 405
    assert "This page cannot do that" in answer.text


def test_a_summary_that_cannot_be_read_is_a_page_in_words_and_the_fault_is_logged(caplog):
    def broken():
        raise OSError("the disk is gone")

    with caplog.at_level(logging.ERROR), served(broken) as url:
        # uvicorn keeps its records to itself unless it is told otherwise
        logging.getLogger("uvicorn").propagate = True
        answer = httpx.get(url, trust_env=False)
    assert answer.status_code == 500
    assert "The page could not be made" in answer.text
    assert "disk" not in answer.text
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    assert "the disk is gone" in caplog.text


def test_no_description_of_the_interface_is_served(client):
    for path in ("/docs", "/redoc", "/openapi.json"):
        assert client.get(path).status_code == 404


@pytest.mark.parametrize(
    "path", ["/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2fapp.py"]
)
def test_only_what_lies_in_the_static_folder_is_served(client, path):
    assert client.get(f"/static/{path}").status_code == 404


def test_fonts_come_with_their_licence(client):
    licence = client.get("/static/fonts/OFL.txt")
    assert "SIL OPEN FONT LICENSE Version 1.1" in licence.text
    for name in ("sofia-sans-latin-wght-normal", "sofia-sans-semi-condensed-latin-wght-normal"):
        assert client.get(f"/static/fonts/{name}.woff2").content[:4] == b"wOF2"
