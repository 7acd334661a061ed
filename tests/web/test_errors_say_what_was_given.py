"""An address that is not understood: the page says what was given, what is expected, what to do."""

from __future__ import annotations

import pytest

from benchwalk.catalogue import LOCALES, say
from benchwalk.records import queries
from benchwalk.records.database import session
from benchwalk.summarise.gathered import EARLIEST, LATEST
from benchwalk.web.errors import GIVEN_MOST
from tests.web.test_reading_the_week import Text

LOOKS = "/looks?unit=019b6a31-b080-717f-b2b3-8e7bc5d1e5c7&pest=a&stage=b&method=c&on=2026-01-01"


@pytest.mark.parametrize("locale", LOCALES)
@pytest.mark.parametrize(
    ("path", "name", "given", "expected"),
    [
        ("/?day=abc", "day", "abc", "web.expected_day"),
        ("/?day=2026-02-30", "day", "2026-02-30", "web.expected_day"),
        (LOOKS.replace("019b6a31", "xyz"), "unit", "xyz-b080", "web.expected_id"),
        (f"{LOOKS}&found=perhaps", "found", "perhaps", "web.expected_yes_no"),
        ("/ledger?before=first", "before", "first", "web.expected_whole"),
        ("/ledger?by=me", "by", "me", "web.expected_id"),
    ],
)
def test_the_part_is_named_with_what_was_given_and_what_is_expected(
    signed_in, locale, path, name, given, expected
):
    answer = signed_in("grower").get(f"{path}&lang={locale}")
    text = Text(answer.text).text
    assert answer.status_code == 422
    assert f"{name}: " in text
    assert given in text
    assert say(expected, locale) in text
    assert say("page.back", locale) in text


@pytest.mark.parametrize(
    ("path", "said"),
    [
        ("/ledger?before=0", "before: given “0”, expected a number from 1 on"),
        ("/ledger?before=99999999999999999999", "expected a number up to 9223372036854775807"),
        ("/?day=0001-01-01", "expected a day from 1900-01-01 to 2999-12-31"),
        ("/report/week.html?day=9999-12-31", "expected a day from 1900-01-01 to 2999-12-31"),
        (LOOKS.replace("on=2026", "on=0001"), "expected a day from 1900-01-01 to 2999-12-31"),
        ("/ledger?what=all", "what: given “all”, expected one of corrected, void"),
        (LOOKS.replace("pest=a", f"pest={'a' * 60}"), "expected at most 48 letters"),
        ("/looks?pest=a", "method is missing; on is missing; stage is missing; unit is missing"),
    ],
)
def test_limits_and_choices_are_said(signed_in, path, said):
    assert said in Text(signed_in("grower").get(f"{path}&lang=en").text).text


@pytest.mark.parametrize("day", [EARLIEST, LATEST])
def test_every_page_of_a_day_has_an_answer_for_the_first_and_the_last(
    signed_in, demo_operation, day
):
    with session(*demo_operation) as s:
        unit = queries.units(s)[0].id
    client = signed_in("grower")
    for path in ("/", f"/units/{unit}", f"/units/{unit}/ahead", "/report/week.html"):
        answer = client.get(path, params={"day": day.isoformat()}, follow_redirects=False)
        assert answer.status_code in (200, 303, 404), path


def test_a_number_that_no_database_holds_is_no_conflict(signed_in):
    assert signed_in("grower").get(f"/conflicts/{10**20}").status_code == 404


def test_what_was_given_is_repeated_in_part_as_text(signed_in):
    given = "<script>go()</script>" + "x" * 80
    source = signed_in("grower").get("/", params={"day": given, "lang": "en"}).text
    assert "<script>go()" not in source
    assert "&lt;script&gt;go()&lt;/script&gt;" + "x" * (GIVEN_MOST - 21) + "”" in source


def test_what_was_typed_into_a_form_is_not_repeated(signed_in):
    """A form may hold a passphrase: only its parts are named."""
    typed = "seven wet ladders" * 30
    path = "/ledger/019b6a31-b080-717f-b2b3-8e7bc5d1e5c7/void?lang=en"
    answer = signed_in("grower").post(path, data={"rev": "1", "reason": typed})
    assert answer.status_code == 422
    assert "reason: expected at most 500 letters" in Text(answer.text).text
    assert "seven wet ladders" not in answer.text
