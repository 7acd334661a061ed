"""Open redirects and path tricks."""

from __future__ import annotations

import html

import httpx
import pytest

from benchwalk.web.base import inside
from tests.web.security.conftest import (
    sign_in,
)


@pytest.mark.parametrize(
    "away",
    [
        "//evil.example",
        "/\\evil.example",
        "https://evil.example",
        "\\\\evil.example",
        "/\t/evil.example",
        "/\n/evil.example",
        "javascript:alert(1)",
        "evil.example",
        "/ok\r\nSet-Cookie: a=b",
        "",
    ],
)
def test_open_redirect_signing_in_leads_to_this_server_only(office, away):
    with office.browser() as client:
        assert sign_in(client, "ana", next=away).headers["location"] == "/"
        assert (
            f'value="{html.escape(away)}"' not in client.get("/sign-in", params={"next": away}).text
            or away == ""
        )


@pytest.mark.parametrize("path", ["/", "/people?role=scout", "/units/1#found"])
def test_signing_in_leads_back_to_where_one_was(path):
    assert inside(path) == path


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/static/..%2fapp.py",
        "/static/%2e%2e%2f%2e%2e%2frecords/base.py",
        "/static//etc/passwd",
        "/static/%00",
        "/static/vendor/..%5c..%5capp.py",
        "/link/..%2f..%2fpeople",
        "/people/..%2f",
        "/people/%00",
        "/people/1%27%20OR%201=1",
    ],
)
def test_path_tricks_lead_nowhere(office, path):
    with office.browser("ana") as client:
        answer = client.get(httpx.URL(office.url + path))
        assert answer.status_code in (400, 404), answer.text
        assert "def " not in answer.text
        assert "root:" not in answer.text
