"""What the server answers to items, by docs/phone-protocol.md; on both databases."""

import datetime as dt
import json

import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records.accounts import devices
from benchwalk.records.database import session, writing
from benchwalk.records.ledger import Head, verify
from benchwalk.records.queries.changes import Asked, changes
from benchwalk.records.sync import take
from tests.capture.a_phone import changed
from tests.records.small_operation import NINE


def test_a_morning_is_applied_and_the_same_again_is_a_duplicate(phone):
    items = phone.morning(3, 0)
    assert phone.sends(*items) == ["applied"] * 4
    assert phone.sends(*items) == ["duplicate"] * 4
    assert sorted(phone.held().values()) == [(1, 0), (1, 3)]
    assert phone.aside() == []
    with session(phone.engine, phone.n) as s:
        assert verify(s, phone.n) is None


def test_the_ledger_says_who_saw_it_on_which_phone_and_by_which_clock(phone):
    items = phone.morning(3)
    phone.sends(*items)
    (row,) = phone.ledger(items[2]["id"])
    assert (str(row.by_id), row.typed_by_id, row.device_id) == (phone.person, None, phone.device)
    assert (row.seen_at, row.clock_offset_s, row.rev) == (NINE, 1.5, 1)


def test_what_others_refer_to_is_taken_first_whatever_the_order_of_sending(phone):
    items = phone.morning(3)[::-1]
    assert phone.sends(*items) == ["applied"] * 3


def test_a_look_without_its_visit_waits_and_is_not_put_aside(phone):
    walk, visit, look = phone.morning(3)
    assert phone.sends(look) == ["rejected missing_reference"]
    assert phone.aside() == []
    assert phone.sends(walk, visit, look) == ["applied"] * 3


def test_a_higher_rev_replaces_the_lines_and_a_lower_one_that_never_came_is_stale(phone):
    walk, visit, look = phone.morning(3)
    phone.sends(walk, visit, look)
    assert phone.sends(changed(look, 3, 5)) == ["applied"]
    assert phone.sends(changed(look, 2, 4)) == ["stale"]
    assert phone.sends(look) == ["duplicate"]
    assert phone.held() == {look["id"]: (3, 5)}


def test_the_same_rev_with_other_content_is_kept_beside_once(phone):
    walk, visit, look = phone.morning(3)
    phone.sends(walk, visit, look)
    other = changed(look, 1, 9)
    assert phone.sends(other) == ["conflict"]
    assert phone.sends(other) == ["conflict"]
    assert phone.held() == {look["id"]: (1, 3)}
    assert phone.aside() == [("conflict", other)]


def test_a_rev_that_the_phone_never_saw_is_not_overwritten(phone):
    """The office corrects rev 1 to rev 2; the phone edits twice before it hears of that."""
    walk, visit, look = phone.morning(3)
    phone.sends(walk, visit, look)
    with writing(phone.engine, phone.n, phone.o.person) as s:
        held = s.scalars(sa.select(r.Observation)).one()
        held.examined[0].tallies[0].number = 7
    assert phone.sends(changed(look, 3, 4, base=1)) == ["conflict"]
    assert phone.held() == {look["id"]: (2, 7)}
    assert phone.sends(changed(look, 3, 4, base=2)) == ["applied"]


def test_a_void_takes_the_look_away_and_a_later_rev_brings_it_back(phone):
    walk, visit, look = phone.morning(3)
    phone.sends(walk, visit, look)
    assert phone.sends(changed(look, 2, 3) | {"void": "wrong plant"}) == ["applied"]
    assert phone.held() == {}
    assert phone.sends(changed(look, 3, 2)) == ["applied"]
    assert phone.held() == {look["id"]: (3, 2)}


def test_a_void_of_what_was_never_sent_is_kept_in_the_ledger(phone):
    walk, visit, look = phone.morning(3)
    phone.sends(walk, visit)
    assert phone.sends(look | {"rev": 2, "void": "undone"}) == ["applied"]
    assert phone.held() == {}
    assert [row.void_reason for row in phone.ledger(look["id"])] == ["undone"]


def test_a_visit_with_looks_is_not_voided_under_them(phone):
    walk, visit, look = phone.morning(3)
    phone.sends(walk, visit, look)
    gone = visit | {"rev": 2, "void": "mistaken"}
    assert phone.sends(gone) == ["rejected broken_rule"]
    assert len(phone.held()) == 1


def wrong_items(phone, walk):
    look = phone.look(walk)
    body = look["body"]
    other = {"kind": "look", "why": "sample"}
    deep = json.loads(json.dumps(body))
    deep["examined"][0]["tallies"][0]["number"] = -1
    full = json.loads(json.dumps(body))
    full["examined"][0]["tallies"][0]["number"] = 2**40
    return {
        "nothing": (None, "malformed"),
        "a number": (7, "malformed"),
        "no fields": ({}, "malformed"),
        "more fields": (look | {"more": 1}, "malformed"),
        "a kind of the office": (look | {"kind": "threshold"}, "unknown_kind"),
        "a kind that is a list": (look | {"kind": []}, "unknown_kind"),
        "an id in capitals": (look | {"id": look["id"].upper()}, "malformed"),
        "rev 0": (look | {"rev": 0}, "malformed"),
        "rev true": (look | {"rev": True}, "malformed"),
        "rev as a fraction": (look | {"rev": 1.0}, "malformed"),
        "base not below rev": (look | {"base": 1}, "malformed"),
        "a time without a zone": (look | {"seen_at": "2026-03-10T09:00:00"}, "malformed"),
        "the year 1": (look | {"seen_at": "0001-01-01T00:00:00+14:00"}, "malformed"),
        "an endless offset": (look | {"offset_s": float("inf")}, "malformed"),
        "a body that is text": (look | {"body": "x"}, "malformed"),
        "a body without a unit": (look | {"body": other}, "malformed"),
        "a column of another table": (look | {"body": body | {"colour": "red"}}, "malformed"),
        "the operation's number": (look | {"body": body | {"operation_id": 2}}, "malformed"),
        "NUL in a note": (look | {"body": body | {"note": "a\0b"}}, "malformed"),
        "half a pair in a note": (look | {"body": body | {"note": "\ud800"}}, "malformed"),
        "a note too long": (look | {"body": body | {"note": "x" * 5000}}, "malformed"),
        "lines that are none": (look | {"body": body | {"examined": [1]}}, "malformed"),
        "a count too large": (look | {"body": full}, "malformed"),
        "a count below 0": (look | {"body": deep}, "broken_rule"),
        "a word of no list": (look | {"body": body | {"why": "luck"}}, "broken_rule"),
        "somebody unknown": (look | {"by": str(r.uuid7())}, "unknown_person"),
    }


def test_one_bad_item_blocks_no_other_and_is_kept_beside_with_its_reason(phone):
    walk, visit, good = phone.morning(3)
    wrong = wrong_items(phone, walk)
    sent = [walk, *(item for item, _ in wrong.values()), visit, good]
    answers = phone.sends(*sent)
    assert answers[0] == answers[-1] == answers[-2] == "applied"
    assert dict(zip(wrong, answers[1:-2], strict=True)) == {
        name: f"rejected {reason}" for name, (_, reason) in wrong.items()
    }
    kept = [reason.split(":")[0] for reason, _ in phone.aside()]
    assert len(kept) == len(wrong)
    assert phone.held() == {good["id"]: (1, 3)}
    with session(phone.engine, phone.n) as s:
        assert verify(s, phone.n) is None


def test_the_rule_that_was_broken_is_kept_in_words(phone):
    walk = phone.walk()
    visit = phone.visit(walk, "skipped")
    visit["body"]["reason"] = "closed"
    assert phone.sends(walk, visit, phone.look(walk))[2] == "rejected broken_rule"
    assert phone.aside()[0][0] == "broken_rule: a skipped unit has no looks"


def test_what_is_missing_in_a_body_is_named(phone):
    phone.sends(phone.walk() | {"body": {}})
    assert phone.aside()[0][0] == "malformed: malformed: body.walk_on: it is missing"


def test_a_walk_of_the_office_is_not_changed_by_a_phone(phone):
    with writing(phone.engine, phone.n, phone.o.person) as s:
        walk = r.Walk(walk_on=dt.date(2026, 3, 10), scout_id=phone.o.person)
        s.add(walk)
    assert phone.sends(phone.walk(id=str(walk.id), rev=2, base=1)) == ["rejected not_yours"]


def test_a_reference_into_another_operation_is_missing(phone, engine):
    from tests.capture.a_phone import APhone  # noqa: PLC0415 - a second one, in this test only

    other = APhone(engine)
    theirs = other.walk()
    other.sends(theirs)
    assert phone.sends(phone.visit(theirs)) == ["rejected missing_reference"]


def test_a_revoked_phone_reaches_no_record_and_nothing_of_it_is_lost(phone):
    items = phone.morning(3)
    phone.sends(*items[:2])
    with writing(phone.engine, phone.n) as s:
        devices.revoke(s, phone.device)
    assert phone.sends(*items) == ["duplicate", "duplicate", "rejected revoked"]
    assert phone.held() == {}
    assert phone.aside() == [("revoked", items[2])]


def test_a_zero_where_nothing_was_examined_has_nowhere_to_stand(phone):
    """A part that was not examined has no line, and so no tally: the look is taken without one."""
    walk, visit, look = phone.morning(3)
    del look["body"]["examined"]
    assert phone.sends(walk, visit, look) == ["applied"] * 3
    with session(phone.engine, phone.n) as s:
        assert s.scalars(sa.select(r.Tally)).all() == []


def test_the_office_reads_when_a_phone_was_heard_and_what_it_still_had(phone):
    items = phone.morning(3)
    take(phone.engine, phone.n, phone.device, items, unsent=8)
    with session(phone.engine, phone.n) as s:
        device = s.scalars(sa.select(r.Device)).one()
        assert device.unsent == 5
        assert device.last_heard_at is not None


@pytest.mark.parametrize("cut", [1, 2, 3])
def test_nothing_is_taken_when_the_batch_ends_in_a_failure(phone, monkeypatch, cut):
    """The disk fails at the nth item: no item is in the records, and none was answered for."""
    done, real = [], Head.say

    def failing(*args, **kw):
        done.append(1)
        if len(done) == cut:
            raise OSError("the disk failed")
        return real(*args, **kw)

    monkeypatch.setattr(Head, "say", failing)
    items = phone.morning(3)
    with pytest.raises(OSError, match="the disk failed"):
        phone.sends(*items)
    monkeypatch.undo()
    assert phone.held() == {}
    assert phone.sends(*items) == ["applied"] * 3


def test_of_a_correction_that_left_a_rev_out_the_list_says_what_stood_there_before(phone):
    walk, visit, look = phone.morning(3)
    assert phone.sends(walk, visit, look, changed(look, 4, 5, base=1)) == ["applied"] * 4
    with session(phone.engine, phone.n) as s:
        (change,) = changes(s, Asked())
    assert (change.said.rev, change.before) == (4, phone.ledger(look["id"])[0].body)
