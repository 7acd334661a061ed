"""Whoever changes the ledger is named, or shown to stand past the last head kept outside."""

import datetime as dt
import hashlib
import json
import random
import sqlite3
import uuid

import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records import chain
from benchwalk.records.chain import Fault, Head, HeadRefusedError, read_heads
from benchwalk.records.database import session, writing
from benchwalk.records.ledger import HASHED, digest
from benchwalk.report.report_words import report_words
from benchwalk.summarise import reported

TAMPERINGS = 60  # the bench makes 1,000
RULES = "SELECT name FROM sqlite_master WHERE type = 'trigger' AND name LIKE 'ledger%'"


def checked(o, *outside):
    with o.s.get_bind().connect() as c:
        return chain.check(c, o.n, outside)


def test_every_row_by_the_fast_way_is_the_text_the_ledger_hashed(o):
    """The oracle is the definition in `ledger.digest`, row by row through typed columns."""
    o.s.info.update(clock_offset_s=-1.25, typed_by_id=o.person, void_reason="typed twice")
    look = o.look(o.walk()[0])
    o.s.delete(look)
    o.s.commit()
    with o.s.get_bind().connect() as c:
        ledger = r.Ledger.__table__.c
        rows = c.execute(sa.select(r.Ledger.__table__).order_by(ledger.seq)).all()
        said = list(chain.spoken(c, o.n))
    before = b""
    assert len(rows) == len(said) > 20
    for row, (seq, held, text) in zip(rows, said, strict=True):
        assert seq == row.seq
        assert hashlib.sha256(before + text).digest() == held
        assert digest(before, {n: getattr(row, n) for n in HASHED}) == held
        before = held


def test_a_head_is_the_last_row_and_its_digest_and_reads_back(o):
    now = chain.head(o.s)
    last = o.s.execute(
        sa.select(r.Ledger.seq, r.Ledger.digest).order_by(r.Ledger.seq.desc())
    ).first()
    assert (now.count, now.digest) == (last.seq, last.digest.hex())
    assert read_heads(f"Head of the chain: {now}.") == [now]
    assert checked(o, now).faults == ()


def test_a_head_on_paper_is_typed_in_again_however_it_was_broken_into_lines(o):
    now = chain.head(o.s)
    assert read_heads(now.on_paper) == [now]
    assert read_heads(now.on_paper.replace(" ", "\n  ")) == [now]
    assert max(map(len, now.on_paper.split()[1:])) == 8


def test_the_week_s_report_prints_the_head(o):
    o.look(o.walk()[0], tallies=(("western_flower_thrips", "adult", 0),))
    held = {h.word: h.text for h in report_words(reported(o.s)).held}
    text = held["head of the ledger, to keep elsewhere"]
    assert read_heads(text) == [chain.head(o.s)]


def test_of_an_operation_without_rows_the_head_says_so(engine):
    uid = uuid.uuid4()
    with engine.begin() as c:
        row = {"id": 1, "uid": uid, "name": "x", "zone": "UTC", "epoch": 1, "practice": False}
        c.execute(sa.insert(r.Operation), row)
    with session(engine, 1) as s:
        assert chain.head(s) == Head(uid, 0, "")


def test_without_an_outside_head_it_speaks_up_to_the_last_row_held(o):
    found = checked(o)
    assert found.outside is None
    assert found.past == found.head.count
    early = Head(found.head.operation, 3, digest_at(o, 3))
    assert checked(o, early).past == found.head.count - 3


def digest_at(o, seq):
    found = sa.select(r.Ledger.digest).where(r.Ledger.seq == seq, r.Ledger.operation_id == o.n)
    return o.s.execute(found).scalar_one().hex()


@pytest.mark.parametrize("text", ["", "hello", "a:1:b"])
def test_what_is_no_head_is_refused(text):
    with pytest.raises(HeadRefusedError, match="no head of a chain in"):
        read_heads(text)


def test_the_head_of_another_operation_is_refused(o):
    with pytest.raises(HeadRefusedError, match="give a head of this operation"):
        checked(o, Head(uuid.uuid4(), 1, "0" * 64))


@pytest.fixture
def ledger(on_file, file):
    """The ledger of a small operation as somebody with the file has it: the rules dropped."""
    on_file.look(on_file.walk()[0])
    on_file.s.close()
    on_file.s.get_bind().dispose()
    connection = sqlite3.connect(file, isolation_level=None)
    for (name,) in connection.execute(RULES).fetchall():
        connection.execute(f"DROP TRIGGER {name}")
    connection.execute("PRAGMA foreign_keys=OFF")
    yield connection
    connection.close()


def write_anew(connection, first):
    """Make every digest from a row on fit again, as a careful forger does."""
    connection.row_factory = sqlite3.Row
    held = connection.execute("SELECT * FROM ledger ORDER BY seq").fetchall()
    connection.row_factory = None
    before = b""
    for row in held:
        now = row["digest"]
        if row["seq"] >= first:
            now = digest(before, typed(dict(row)))
            connection.execute("UPDATE ledger SET digest = ? WHERE seq = ?", (now, row["seq"]))
        before = now


def typed(row):
    for name in ("id", "by_id", "typed_by_id", "device_id"):
        row[name] = None if row[name] is None else uuid.UUID(bytes=row[name])
    for name in ("seen_at", "received_at"):
        row[name] = dt.datetime.fromisoformat(row[name]).replace(tzinfo=dt.UTC)
    return row


def changed(connection, seq, rng):
    column, value = rng.choice(
        [
            ("body", '{"plants":2}'),
            ("seen_at", "2020-01-01 00:00:00.000000"),
            ("received_at", "yesterday"),
            ("by_id", bytes(16)),
            ("kind", "nothing"),
            ("void_reason", ""),
            ("clock_offset_s", 3.5),
            ("epoch", 9),
            ("digest", bytes(32)),
            ("id", "not an id"),
        ]
    )
    connection.execute(f"UPDATE ledger SET {column} = ? WHERE seq = ?", (value, seq))


def left_out(connection, seq):
    connection.execute("DELETE FROM ledger WHERE seq = ?", (seq,))


def closed_up(connection, seq):
    """A row left out, those behind it moved up and hashed anew."""
    left_out(connection, seq)
    connection.execute("UPDATE ledger SET seq = -seq + 1 WHERE seq > ?", (seq,))
    connection.execute("UPDATE ledger SET seq = -seq WHERE seq < 0")
    write_anew(connection, seq)


def tampered(connection, rng, count):
    """One tampering at random; (how, row)."""
    seq = rng.randint(1, count)
    how = rng.choice(["changed", "left out", "cut off", "changed and fitted", "closed up"])
    match how:
        case "changed":
            changed(connection, seq, rng)
        case "left out":
            left_out(connection, seq)
        case "cut off":
            connection.execute("DELETE FROM ledger WHERE seq >= ?", (seq,))
        case "changed and fitted":
            connection.execute("UPDATE ledger SET body = '{}' WHERE seq = ?", (seq,))
            write_anew(connection, seq)
        case "closed up":
            closed_up(connection, seq)
    return how, seq


def named(found, how, seq, outside):
    """Whether what was done is named, or lies past the last outside head."""
    if any(f.first <= seq <= f.last for f in found.faults):
        return True
    return seq > outside.count and how != "changed"


@pytest.mark.parametrize("n", range(TAMPERINGS))
def test_a_random_tampering_is_named_or_past_the_last_outside_head(ledger, on_file, n):
    rng = random.Random(n)
    count = ledger.execute("SELECT max(seq) FROM ledger").fetchone()[0]
    outside = Head(uid_of(ledger), k := rng.randint(1, count), held_at(ledger, k))
    before = list(ledger.execute("SELECT * FROM ledger"))
    how, seq = tampered(ledger, rng, count)
    assert list(ledger.execute("SELECT * FROM ledger")) != before
    ledger.close()
    found = checked(on_file, outside)
    assert named(found, how, seq, outside), (how, seq, outside.count, found)
    others = [f for f in found.faults if not f.first <= seq <= f.last]
    assert all(f.first == seq + 1 for f in others), "a digest that was changed shows twice, no more"


def uid_of(connection):
    return uuid.UUID(bytes=connection.execute("SELECT uid FROM operation").fetchone()[0])


def held_at(connection, seq):
    return connection.execute("SELECT digest FROM ledger WHERE seq = ?", (seq,)).fetchone()[0].hex()


def test_nothing_done_is_nothing_named(ledger, on_file):
    head = Head(uid_of(ledger), 5, held_at(ledger, 5))
    assert checked(on_file, head).faults == ()


def test_two_outside_heads_say_between_which_rows_all_was_written_anew(ledger, on_file):
    uid = uid_of(ledger)
    known = [Head(uid, k, held_at(ledger, k)) for k in (4, 9, 12)]
    ledger.execute("UPDATE ledger SET body = '{}' WHERE seq = 7")
    write_anew(ledger, 7)
    assert checked(on_file, *known).faults == (Fault("rewritten", 5, 9),)


def test_rows_cut_off_are_fewer_than_the_outside_head_counts_and_unknown_without_one(
    ledger, on_file
):
    count = ledger.execute("SELECT max(seq) FROM ledger").fetchone()[0]
    outside = Head(uid_of(ledger), count, held_at(ledger, count))
    ledger.execute("DELETE FROM ledger WHERE seq > 10")
    agreed = Head(uid_of(ledger), 10, held_at(ledger, 10))
    assert checked(on_file, agreed, outside).faults == (Fault("short", 11, count),)
    assert checked(on_file).faults == ()


def test_no_hashed_body_holds_a_name_of_a_person(o, engine):
    """The only names are in `person`; a look, a walk and a treatment carry ids."""
    name = "Wilhelmina Quist (invented)"
    with engine.begin() as c:
        c.execute(sa.update(r.Person).values(name=name))
    o.look(o.walk()[0])
    with writing(engine, o.n, o.person) as s:
        s.add(r.Application(kind="wash", what="water", applicator_id=o.person))
    said = o.s.scalars(sa.select(r.Ledger.body)).all()
    assert any(str(o.person) in json.loads(text).values() for text in said)
    assert not any(part in text for text in said for part in name.split()[:2])


def test_no_column_of_a_record_is_made_to_hold_a_person():
    """Who did a thing is a key to `person`: a text column that says who would put a name in."""
    who = {
        "scout",
        "applicator",
        "grower",
        "by",
        "who",
        "person",
        "author",
        "inspector",
        "typed_by",
    }
    for table in r.Base.metadata.sorted_tables:
        if table.info.get("kind"):
            for column in table.c:
                assert column.name not in who, f"{table.name}.{column.name}"
