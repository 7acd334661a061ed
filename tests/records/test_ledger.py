"""The ledger: one chain, two ways in, the same words by either."""

import datetime as dt
import json

import pytest
import sqlalchemy as sa
from hypothesis import given
from hypothesis import strategies as st

import benchwalk.records as r
from benchwalk.records.database import writing
from benchwalk.records.ledger import canonical, digest, verify, write_new
from tests.records.small_operation import NINE, SmallOperation


def a_morning(o):
    """A walk, its visit, and a look with two tallies; ids given, so that two ways compare."""
    walk = r.Walk(id=r.uuid7(NINE, b"walk......"), walk_on=NINE.date(), scout_id=o.person)
    visit = r.Visit(
        id=r.uuid7(NINE, b"visit....."), walk_id=walk.id, unit_id=o.unit.id, state="done"
    )
    counted = [
        r.Tally(taxon="thrips", stage="larva", number=2),
        r.Tally(taxon="thrips", stage="adult", how="present"),
    ]
    look = r.Observation(
        id=r.uuid7(NINE, b"look......"),
        kind="look",
        walk_id=walk.id,
        unit_id=o.unit.id,
        seen_at=NINE,
        why="sample",
        plants=1,
        examined=[r.Examined(method="leaf_count", items=3, tallies=counted)],
    )
    return [look, visit, walk]


def bodies(session, rows):
    said = sa.select(r.Ledger.kind, r.Ledger.body).where(r.Ledger.id.in_([x.id for x in rows]))
    return {kind: json.loads(body) for kind, body in session.execute(said)}


def test_both_ways_in_say_the_same_words_and_leave_the_same_rows(o, engine):
    other = SmallOperation(engine)
    by_session = a_morning(o)
    for row in reversed(by_session):
        o.add(row)
    by_bulk = a_morning(other)
    with writing(engine, other.n, other.person) as s:
        assert write_new(s, by_bulk) == 3
    mine, theirs = bodies(o.s, by_session), bodies(other.s, by_bulk)
    for body in (mine, theirs):
        for said in body.values():
            for own in ("unit_id", "scout_id"):
                said.pop(own, None)
    assert mine == theirs
    assert mine["observation"]["examined"][0]["tallies"][1]["how"] == "present"
    held = [(t.taxon, t.stage, t.how, t.number) for t in other.s.scalars(sa.select(r.Tally))]
    assert sorted(held) == [("thrips", "adult", "present", None), ("thrips", "larva", "counted", 2)]
    assert verify(other.s, other.n) is None
    other.s.close()


def test_a_bulk_write_that_breaks_a_rule_leaves_nothing(o, engine):
    rows = a_morning(o)
    rows[0].examined[0].tallies.append(r.Tally(taxon="thrips", stage="motile", number=1))
    before = o.s.scalar(sa.select(sa.func.max(r.Ledger.seq)))
    o.s.rollback()
    with (
        pytest.raises(sa.exc.DBAPIError, match="overlaps"),
        writing(engine, o.n, o.person) as s,
    ):
        write_new(s, rows)
    assert o.s.scalar(sa.select(sa.func.max(r.Ledger.seq))) == before
    assert o.s.scalars(sa.select(r.Walk)).all() == []


def test_the_body_holds_ids_of_people_and_never_a_name(o):
    o.walk()
    text = " ".join(o.s.scalars(sa.select(r.Ledger.body)))
    assert str(o.person) in text
    assert '"A"' not in text.replace('"name":"A"', "")  # the air space is called A, the scout too


def test_an_untouched_record_gets_no_new_rev(o):
    look = o.look(o.walk()[0])
    o.s.expire_all()
    assert o.s.get_one(r.Observation, (o.n, look.id)).examined[0].items == 3
    o.s.commit()
    assert look.rev == 1


texts = st.text(st.characters(exclude_categories=["Cs"]))


@given(st.dictionaries(texts, st.one_of(texts, st.integers(), st.none(), st.booleans())))
def test_canonical_json_does_not_depend_on_the_order_of_keys(content):
    turned = dict(reversed(list(content.items())))
    assert canonical(content) == canonical(turned)
    assert json.loads(canonical(content)) == content


def said(**changed):
    at = dt.datetime(2026, 3, 1, tzinfo=dt.UTC)
    nobody = dict.fromkeys(["void_reason", "by_id", "typed_by_id", "device_id", "clock_offset_s"])
    row = {"seq": 1, "epoch": 1, "kind": "unit", "id": r.uuid7(at, bytes(10)), "rev": 1}
    return row | nobody | {"seen_at": at, "received_at": at, "body": "{}"} | changed


@pytest.mark.parametrize(
    "changed",
    [
        {"seq": 2},
        {"epoch": 2},
        {"kind": "walk"},
        {"rev": 2},
        {"void_reason": ""},
        {"clock_offset_s": 1.5},
        {"seen_at": dt.datetime(2026, 3, 2, tzinfo=dt.UTC)},
        {"body": "{ }"},
    ],
    ids=lambda c: next(iter(c)),
)
def test_any_changed_field_changes_the_digest(changed):
    assert digest(b"", said(**changed)) != digest(b"", said())


def test_the_digest_reads_an_instant_and_not_its_zone():
    east = dt.timezone(dt.timedelta(hours=9))
    there = said()["seen_at"].astimezone(east)
    assert digest(b"x", said(seen_at=there)) == digest(b"x", said())


def test_an_id_is_version_7_and_sorts_by_its_instant_rfc_9562():
    """RFC 9562, section 5.7: version 7 and variant 10, 48 bits of milliseconds first.

    Appendix A.6 of the RFC: 2022-02-22 14:22:22 GMT-05:00 is 017F22E2-79B0-7CC3-98C4-DC0C0C07398F
    (from memory; the milliseconds are recomputed here).
    """
    at = dt.datetime(2022, 2, 22, 14, 22, 22, tzinfo=dt.timezone(dt.timedelta(hours=-5)))
    made = r.uuid7(at, bytes.fromhex("0CC318C4DC0C0C07398F"))
    assert str(made).upper() == "017F22E2-79B0-7CC3-98C4-DC0C0C07398F"
    assert (made.version, made.variant) == (7, "specified in RFC 4122")
    assert r.uuid7(at) < r.uuid7(at + dt.timedelta(milliseconds=1))
