"""Copies are made while others write, proved by restoring them, and kept as long as was said."""

import datetime as dt
import json
import shutil
import sqlite3
import threading
import time
from dataclasses import replace

import pytest
import sqlalchemy as sa
from hypothesis import given
from hypothesis import strategies as st

import benchwalk.records as r
from benchwalk.records import backup, chain
from benchwalk.records.backup import (
    PLACE,
    ProofFailedError,
    copies,
    copy_if_due,
    due,
    last_proven,
    make,
    read_proof,
    refuse_changed,
)
from benchwalk.records.backup.keeping import before_migrations, kept
from benchwalk.records.backup.proof import held_in
from benchwalk.records.database import folder_of, open_database, session, writing
from tests.patience import all_ended
from tests.records.small_operation import SmallOperation

COPIES, WRITERS = 10, 8  # the bench makes 200


def rows_of(file):
    """What a copy holds by plain SQLite, no code of ours between."""
    connection = sqlite3.connect(file)
    try:
        tables = [
            t for (t,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
        ]
        return {t: sorted(connection.execute(f'SELECT * FROM "{t}"'), key=repr) for t in tables}
    finally:
        connection.close()


def test_a_copy_alone_in_an_empty_folder_opens_and_holds_every_row(o, engine, tmp_path):
    look = o.look(o.walk()[0])
    made = make(engine)
    alone = tmp_path / "elsewhere"
    alone.mkdir()
    shutil.copyfile(made.folder / "benchwalk.sqlite", alone / "benchwalk.sqlite")
    held = open_database(f"sqlite:///{alone / 'benchwalk.sqlite'}")
    with session(held, o.n) as s:
        assert s.get_one(r.Observation, (o.n, look.id)).examined[0].tallies[0].number == 3
        assert str(chain.head(s)) == made.proof.heads[0]
    assert made.proof.counts["ledger"] == len(o.s.scalars(sa.select(r.Ledger.seq)).all())
    assert made.proof.source == engine.dialect.name
    assert made.proof.whole
    held.dispose()


def test_both_databases_copy_the_same_rows(o, engine):
    """The same operation read through the typed tables, from where it lives and from its copy."""
    o.look(o.walk()[0])
    held = open_database(f"sqlite:///{make(engine).folder / 'benchwalk.sqlite'}")
    with engine.connect() as here, held.connect() as there:
        for table in r.Base.metadata.sorted_tables:
            wanted = sa.select(table).order_by(*table.primary_key)
            found = [tuple(row) for row in there.execute(wanted)]
            assert found == [tuple(row) for row in here.execute(wanted)], table.name
    held.dispose()


def test_an_owner_whom_the_policies_bind_copies_every_operation(owner):
    superuser = open_database(
        owner.url.set(username="postgres", password=None).render_as_string(hide_password=False)
    )
    one, two = SmallOperation(superuser), SmallOperation(superuser)
    whole, bound = make(superuser), make(owner)
    assert bound.proof.counts == whole.proof.counts
    assert bound.proof.heads == whole.proof.heads
    assert len(bound.proof.heads) == 2
    one.s.close()
    two.s.close()
    superuser.dispose()


@pytest.fixture
def all_kept(monkeypatch):
    """Of one day only the newest copy is kept; here all are looked at."""
    monkeypatch.setattr(backup, "_let_go", lambda place: None)


def test_photos_and_keys_go_with_it_and_a_photo_is_kept_once(o, engine, all_kept):
    data = folder_of(engine)
    for name, text in (("photos/2026/a.jpg", b"a"), ("keys/server.key", b"k")):
        (data / name).parent.mkdir(parents=True, exist_ok=True)
        (data / name).write_bytes(text)
    first, second = make(engine), make(engine)
    for made in (first, second):
        assert (made.folder / "photos/2026/a.jpg").read_bytes() == b"a"
        assert (made.folder / "keys/server.key").read_bytes() == b"k"
        assert {"photos/2026/a.jpg", "keys/server.key", "benchwalk.sqlite"} == set(made.proof.files)
    inode = [(m.folder / "photos/2026/a.jpg").stat().st_ino for m in (first, second)]
    assert inode[0] == inode[1]
    (data / "photos/2026/a.jpg").write_bytes(b"b")
    third = make(engine)
    assert (third.folder / "photos/2026/a.jpg").read_bytes() == b"b"
    assert (second.folder / "photos/2026/a.jpg").read_bytes() == b"a"


def test_the_second_place_is_remembered_and_compared(o, engine, tmp_path):
    there = tmp_path / "stick"
    make(engine, there)
    made = make(engine)
    assert made.second == there / made.folder.name
    refuse_changed(made.second, read_proof(made.second))
    assert last_proven(folder_of(engine)).in_second is True
    shutil.rmtree(made.second)
    assert last_proven(folder_of(engine)).in_second is False


def test_what_was_proven_when_is_read_from_the_newest_copy(o, engine):
    data = folder_of(engine)
    assert last_proven(data) is None
    assert due(data)
    before = dt.datetime.now(dt.UTC)
    made = make(engine)
    last = last_proven(data)
    assert before <= last.at <= dt.datetime.now(dt.UTC)
    assert (last.folder, last.in_second) == (made.folder, None)
    assert not due(data, last.at + dt.timedelta(hours=23, minutes=59))
    assert due(data, last.at + dt.timedelta(days=1))


def test_the_daily_copy_follows_a_write_and_only_once(o, engine):
    assert copy_if_due(engine) is None
    with writing(engine, o.n) as s:
        s.add(r.AirSpace(name="B"))
    assert copy_if_due(engine) is not None
    assert copy_if_due(engine) is None


def test_practice_is_not_copied_by_itself(o, engine):
    with engine.begin() as c:
        c.execute(sa.update(r.Operation).values(practice=True))
    with writing(engine, o.n) as s:
        s.add(r.AirSpace(name="B"))
    assert copy_if_due(engine) is None


def test_a_server_makes_the_daily_copy_by_itself_and_goes_on_when_one_fails(
    o, engine, monkeypatch, caplog
):
    data, tried = folder_of(engine), []

    def fails_once(engine):
        tried.append(engine)
        if len(tried) == 1:
            raise OSError("no such stick")
        return make(engine)

    monkeypatch.setattr(backup, "make", fails_once)
    with backup.daily(engine, every_s=0.01):
        for _ in range(1000):
            if len(tried) > 1 and copies(data / "backups"):
                break
            time.sleep(0.01)
    assert "no such stick" in caplog.text
    assert len(copies(data / "backups")) == 1
    assert len(tried) == 2


def test_a_copy_by_file_copy_is_not_proved(on_file, file, tmp_path, monkeypatch):
    """What stands in the journal is not in the file: a plain copy of it lacks the newest rows."""
    on_file.add(r.AirSpace(name="in the journal"))

    def by_file(engine, into):
        with engine.connect() as c:
            held = held_in(c)
        shutil.copyfile(file, into)
        return held

    monkeypatch.setattr(backup, "snapshot", by_file)
    with pytest.raises(ProofFailedError, match=r"is not what it was made from|is damaged"):
        make(on_file.s.get_bind())
    assert copies(file.parent / "backups") == []


@pytest.mark.parametrize("page", [1, 2, 20, 60])
def test_one_damaged_page_is_found(o, engine, page):
    made = make(engine)
    with (made.folder / "benchwalk.sqlite").open("r+b") as f:
        f.seek(page * 4096 + 1000)
        byte = f.read(1)
        f.seek(-1, 1)
        f.write(bytes([byte[0] ^ 0x40]))
    with pytest.raises(ProofFailedError, match=r"benchwalk\.sqlite is not as it was proved"):
        refuse_changed(made.folder, read_proof(made.folder))


def test_a_page_damaged_while_it_is_copied_is_found_by_the_proof(on_file, monkeypatch):
    """Before any digest of the copy was taken: SQLite's own check is what finds it."""
    real = backup.snapshot

    def damaging(engine, into):
        held = real(engine, into)
        whole = bytearray(into.read_bytes())
        whole[5 * 4096 : 5 * 4096 + 200] = bytes(200)
        into.write_bytes(whole)
        return held

    monkeypatch.setattr(backup, "snapshot", damaging)
    with pytest.raises(ProofFailedError, match="is damaged"):
        make(on_file.s.get_bind())
    assert copies(folder_of(on_file.s.get_bind()) / PLACE) == []


def test_records_that_were_tampered_with_are_copied_and_never_called_whole(on_file, file):
    engine = on_file.s.get_bind()
    make(engine)
    with engine.begin() as c:
        c.exec_driver_sql("DROP TRIGGER ledger_ledger_kept_update")
        c.exec_driver_sql("UPDATE ledger SET body = '{}' WHERE seq = 3")
    made = make(engine)
    assert [f[1:] for f in read_proof(made.folder).faults] == [["changed", 3, 3]]
    assert last_proven(file.parent).folder != made.folder


def test_a_proof_that_cannot_be_read_is_none(o, engine):
    made = make(engine)
    (made.folder / "proof.json").write_text('{"format": 1}')
    with pytest.raises(ProofFailedError, match="is damaged"):
        read_proof(made.folder)
    assert last_proven(folder_of(engine)) is None


def test_a_proof_is_read_as_it_was_written(o, engine):
    made = make(engine)
    assert json.loads((made.folder / "proof.json").read_text())["format"] == 1
    read = read_proof(made.folder)
    assert (read.made_at, read.counts, list(read.heads)) == (
        made.proof.made_at,
        made.proof.counts,
        list(made.proof.heads),
    )


def test_copies_under_writers_hold_every_row_acknowledged_before_their_start(
    on_file, file, all_kept
):
    engine = on_file.s.get_bind()
    acknowledged, stop = set(), threading.Event()

    def write(n):
        own = open_database(f"sqlite:///{file}")
        k = 0
        while not stop.is_set():
            with writing(own, on_file.n) as s:
                s.add(air := r.AirSpace(name=f"{n} {k}"))
            acknowledged.add(air.id.bytes)
            k += 1
        own.dispose()

    threads = [threading.Thread(target=write, args=(n,), daemon=True) for n in range(WRITERS)]
    for t in threads:
        t.start()
    made = []
    for _ in range(COPIES):
        before = set(acknowledged)
        made.append((before, make(engine)))
    stop.set()
    all_ended(threads)
    for before, copy in made:
        ids = {row[1] for row in rows_of(copy.folder / "benchwalk.sqlite")["air_space"]}
        assert before <= ids
        assert copy.proof.whole
    assert len(made[-1][0]) > COPIES


def days(*numbers):
    return [dt.datetime(2026, 1, 1, 12, tzinfo=dt.UTC) + dt.timedelta(days=n) for n in numbers]


def test_seven_days_five_weeks_and_twelve_months_are_kept_by_hand():
    """Two years of daily copies up to Thursday 31 December 2026, counted on a calendar by hand."""
    made = days(*range(-365, 365))
    left = sorted(at.date() for at in kept(made))
    daily = [dt.date(2026, 12, n) for n in range(25, 32)]
    weekly = [dt.date(2026, 12, 31), dt.date(2026, 12, 27), dt.date(2026, 12, 20)]
    weekly += [dt.date(2026, 12, 13), dt.date(2026, 12, 6)]
    monthly = [dt.date(2026, m + 1, 1) - dt.timedelta(days=1) for m in range(1, 12)]
    assert left == sorted({*daily, *weekly, *monthly, dt.date(2026, 12, 31)})


def test_the_copy_made_before_a_migration_outlives_the_day_and_a_year():
    """Three schemas: the last word of each older one is kept a year, whatever came that day."""
    noon = dt.datetime(2026, 3, 10, 12, tzinfo=dt.UTC)
    hour, year = dt.timedelta(hours=1), dt.timedelta(days=366)
    made = {noon - hour: "0001", noon: "0001", noon + hour: "0002", noon + 2 * hour: "0002"}
    assert before_migrations(made) == {noon, noon + 2 * hour}
    assert before_migrations(made | {noon + year: "0003"}) == {noon, noon + 2 * hour, noon + year}
    assert before_migrations(made | {noon + year + hour: "0003"}) == {
        noon + 2 * hour,
        noon + year + hour,
    }
    assert before_migrations({}) == set()


def test_a_copy_after_a_migration_does_not_drop_the_one_before_it(o, engine, monkeypatch):
    """Of one day only the newest is kept, and the newest before the migration."""
    place = folder_of(engine) / PLACE
    real = backup.snapshot
    made = []
    for schema in ("older", "older", None):
        monkeypatch.setattr(backup, "snapshot", _at_schema(real, schema))
        monkeypatch.setattr(backup, "prove", lambda *_: [])
        made.append(make(engine).folder)
    assert [folder for folder, _ in copies(place)] == made[1:]


def _at_schema(real, schema):
    def snapshot(*said):
        held = real(*said)
        return held if schema is None else replace(held, schema=schema)

    return snapshot


@given(st.lists(st.datetimes(timezones=st.just(dt.UTC)), max_size=60))
def test_the_newest_is_kept_and_never_more_than_was_said(made):
    left = kept(made)
    assert left <= set(made)
    assert len(left) <= 24
    assert not made or max(made) in left
    assert kept(left) == left
