"""Compressed are the pages of the list, and no page that holds a secret."""

from __future__ import annotations

import pytest

SECRET = ("/people", "/phones", "/account", "/sign-in", "/ledger", "/report")


def test_the_week_and_its_style_are_sent_compressed_and_say_the_same(signed_in):
    grower = signed_in("grower")
    for path in ("/", "/static/benchwalk.css"):
        packed = grower.get(path, headers={"Accept-Encoding": "gzip"})
        plain = grower.get(path, headers={"Accept-Encoding": "identity"})
        assert packed.headers["content-encoding"] == "gzip"
        assert "Accept-Encoding" in packed.headers["vary"]
        assert "content-encoding" not in plain.headers
        assert packed.text == plain.text
        assert int(packed.headers.get("content-length", 0)) < len(plain.content) / 3


@pytest.mark.parametrize("path", SECRET)
def test_breach_no_page_with_a_code_a_link_or_free_text_of_the_request_is_compressed(
    signed_in, path
):
    """The attack guesses a secret by how well it compresses beside the attacker's words."""
    answer = signed_in("manager").get(path, headers={"Accept-Encoding": "gzip"})
    assert answer.status_code in (200, 303)
    assert "content-encoding" not in answer.headers


def test_a_part_of_a_file_is_a_part_of_the_file_itself(signed_in):
    asked = {"Accept-Encoding": "gzip", "Range": "bytes=0-1999"}
    answer = signed_in("grower").get("/static/benchwalk.css", headers=asked)
    assert answer.status_code == 206
    assert "content-encoding" not in answer.headers


def test_a_compressed_page_repeats_no_word_of_the_request(signed_in):
    grower = signed_in("grower")
    for name in ("house", "pest", "person", "day", "other"):
        answer = grower.get("/", params={name: "zq7secretzq7"})
        compressed = "content-encoding" in answer.headers
        assert not (compressed and "zq7secretzq7" in answer.text)
        assert compressed or name == "day", "a day that is none is refused"
