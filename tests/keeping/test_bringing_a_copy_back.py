"""A copy comes back whole or not at all; what stood there is put aside, never deleted."""

import json
import shutil
import sqlite3

import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records import chain
from benchwalk.records import restore as restoring
from benchwalk.records.backup import ProofFailedError, make
from benchwalk.records.backup.proof import sha256_of
from benchwalk.records.database import file_of, folder_of, open_database, session, writing
from benchwalk.records.ledger import verify
from benchwalk.records.lock import LockedError
from benchwalk.records.restore import RestoreRefusedError, restore
from tests.conftest import _admin, _named


@pytest.fixture
def made(on_file, file):
    """A copy of a small operation with a photo and a key."""
    on_file.look(on_file.walk()[0])
    for name in ("photos/a.jpg", "keys/server.key"):
        (file.parent / name).parent.mkdir()
        (file.parent / name).write_bytes(name.encode())
    return make(on_file.s.get_bind())


@pytest.fixture
def elsewhere(tmp_path):
    """Another PC: an empty folder."""
    engine = open_database(f"sqlite:///{tmp_path / 'other' / 'benchwalk.sqlite'}")
    yield engine
    engine.dispose()


def rows(engine):
    with engine.connect() as c:
        tables = [t for t in r.Base.metadata.sorted_tables if t.name != "operation"]
        return {
            t.name: [tuple(x) for x in c.execute(sa.select(t).order_by(*t.primary_key))]
            for t in tables
        }


def close(on_file):
    on_file.s.close()
    on_file.s.get_bind().dispose()
    return on_file.s.get_bind()


def test_on_another_pc_every_row_photo_and_key_is_there_in_a_new_epoch(made, on_file, elsewhere):
    done = restore(made.folder, elsewhere)
    assert rows(elsewhere) == rows(on_file.s.get_bind())
    data = folder_of(elsewhere)
    assert (data / "photos/a.jpg").read_bytes() == b"photos/a.jpg"
    assert (data / "keys/server.key").read_bytes() == b"keys/server.key"
    assert (done.epoch, done.aside) == (2, None)
    with writing(elsewhere, on_file.n) as s:
        assert s.scalars(sa.select(r.Operation.epoch)).all() == [2]
        s.add(r.AirSpace(name="after"))
    with session(elsewhere, on_file.n) as s:
        assert verify(s, on_file.n) is None
        assert s.scalars(sa.select(r.Ledger.epoch).order_by(r.Ledger.seq.desc())).first() == 2
    assert not list(data.glob(".restoring-*"))


def test_records_that_are_there_are_not_overwritten_without_being_told(made, on_file):
    engine = close(on_file)
    with pytest.raises(RestoreRefusedError, match=r"there are records at .* give --replace"):
        restore(made.folder, engine)


def test_what_stood_there_is_put_aside_whole_and_its_epoch_is_not_used_again(made, on_file, file):
    on_file.add(r.AirSpace(name="since the copy"))
    engine = close(on_file)
    with engine.begin() as c:
        c.execute(sa.update(r.Operation).values(epoch=7))
    before = rows(engine)
    engine.dispose()
    done = restore(made.folder, engine, replace=True)
    assert done.epoch == 8
    kept = open_database(f"sqlite:///{done.aside / file.name}")
    assert rows(kept) == before
    kept.dispose()
    assert (done.aside / "keys/server.key").is_file()
    names = {row.name for row in engine.connect().execute(sa.select(r.AirSpace.name))}
    assert names == {"A"}
    engine.dispose()


def test_a_server_that_has_the_records_open_is_not_restored_under(made, on_file):
    engine = on_file.s.get_bind()
    other = open_database(engine.url.render_as_string())
    with other.connect(), pytest.raises(LockedError, match="open in a server or another command"):
        restore(made.folder, engine, replace=True)
    other.dispose()


def test_a_damaged_copy_is_refused_and_nothing_is_touched(made, elsewhere):
    copied = made.folder / "benchwalk.sqlite"
    held = bytearray(copied.read_bytes())
    held[3 * 4096 + 99] ^= 1
    copied.write_bytes(held)
    with pytest.raises(ProofFailedError, match="not as it was proved; use another copy"):
        restore(made.folder, elsewhere)
    assert not file_of(elsewhere).exists()


@pytest.mark.parametrize("name", ["photos/a.jpg", "keys/server.key", "benchwalk.sqlite"])
def test_a_copy_that_lacks_a_file_is_refused(made, elsewhere, name):
    (made.folder / name).unlink()
    with pytest.raises(ProofFailedError, match=f"{name} is missing"):
        restore(made.folder, elsewhere)


def test_a_damaged_page_behind_a_proof_made_to_fit_is_found_by_reading_every_page(made, elsewhere):
    copied = made.folder / "benchwalk.sqlite"
    held = bytearray(copied.read_bytes())
    held[4096 * 2 : 4096 * 3] = b"\xff" * 4096
    copied.write_bytes(held)
    fitted(made.folder, benchwalk=copied)
    with pytest.raises(ProofFailedError, match="is damaged"):
        restore(made.folder, elsewhere)
    assert not file_of(elsewhere).exists()


def test_a_row_taken_out_behind_a_proof_made_to_fit_is_found_by_counting(made, elsewhere):
    copied = made.folder / "benchwalk.sqlite"
    connection = sqlite3.connect(copied)
    triggers = connection.execute("SELECT name FROM sqlite_master WHERE type='trigger'").fetchall()
    for (name,) in triggers:
        connection.execute(f"DROP TRIGGER {name}")
    connection.execute("DELETE FROM tally")
    connection.commit()
    connection.close()
    fitted(made.folder, benchwalk=copied)
    with pytest.raises(ProofFailedError, match="tally: 1 -> 0"):
        restore(made.folder, elsewhere)


def fitted(folder, benchwalk):
    """The digest in the proof made to fit the changed file."""
    proof = json.loads((folder / "proof.json").read_text())
    proof["files"]["benchwalk.sqlite"] = sha256_of(benchwalk)
    (folder / "proof.json").write_text(json.dumps(proof))


def test_a_copy_of_a_newer_version_is_refused(made, elsewhere):
    proof = json.loads((made.folder / "proof.json").read_text())
    (made.folder / "proof.json").write_text(json.dumps(proof | {"schema": "9999"}))
    with pytest.raises(RestoreRefusedError, match=r"newer version \(schema 9999\); install"):
        restore(made.folder, elsewhere)


def test_a_folder_that_is_no_copy_is_refused(tmp_path, elsewhere):
    with pytest.raises(ProofFailedError, match=r"is not a copy: it has no proof\.json"):
        restore(tmp_path, elsewhere)


def test_without_room_it_is_refused_before_anything_is_written(made, elsewhere, monkeypatch):
    monkeypatch.setattr(restoring, "room_bytes", lambda path: 1)
    with pytest.raises(RestoreRefusedError, match=r"needs .* MB, and 0 MB are free"):
        restore(made.folder, elsewhere)
    assert not file_of(elsewhere).exists()


def test_damaged_records_can_be_replaced_and_are_kept_as_they_are(made, on_file, file):
    engine = close(on_file)
    file.write_bytes(b"not a database at all" * 1000)
    done = restore(made.folder, engine, replace=True)
    assert (done.aside / file.name).read_bytes().startswith(b"not a database")
    with engine.connect() as c:
        assert c.execute(sa.select(sa.func.count()).select_from(r.Tally)).scalar() == 1


STEPS = ["_prepared", "_put_aside", "_photos_in_place", "_keys_in_place"]


@pytest.mark.parametrize("step", STEPS)
def test_ended_at_any_step_the_records_are_the_old_or_the_new_ones_whole(
    made, on_file, file, monkeypatch, step
):
    on_file.add(r.AirSpace(name="since the copy"))
    engine = close(on_file)
    old = rows(engine)
    engine.dispose()

    def ended(*_, **__):
        raise KeyboardInterrupt("ended")

    monkeypatch.setattr(restoring, step, ended)
    with pytest.raises(KeyboardInterrupt, match="ended"):
        restore(made.folder, engine, replace=True)
    monkeypatch.undo()
    found = rows(engine)
    assert found == old if step != "_keys_in_place" else len(found["air_space"]) == 1
    assert not list(file.parent.glob(".restoring-*"))


@pytest.fixture
def empty_postgres(postgres_template):
    _admin(
        postgres_template,
        "DROP DATABASE IF EXISTS restored WITH (FORCE)",
        "CREATE DATABASE restored",
    )
    engine = open_database(_named(postgres_template, "restored"))
    yield engine
    engine.dispose()


def test_a_copy_of_either_database_comes_back_into_postgresql(o, engine, empty_postgres):
    look = o.look(o.walk()[0])
    o.add(r.Unit(**later_unit(o)))
    made = make(engine)
    done = restore(made.folder, empty_postgres)
    assert done.epoch == 2
    with session(empty_postgres, o.n) as s:
        assert s.get_one(r.Observation, (o.n, look.id)).examined[0].tallies[0].number == 3
        assert str(chain.head(s)) == made.proof.heads[0]
        assert verify(s, o.n) is None
        s.add(r.AirSpace(name="after"))
        s.commit()
        with pytest.raises(sa.exc.DBAPIError, match="the ledger is never changed"):
            s.execute(sa.text("UPDATE ledger SET body = '{}'"))
    with empty_postgres.connect() as c:
        assert restoring.walls.unforced(c) == []
    with pytest.raises(RestoreRefusedError, match="there are records"):
        restore(made.folder, empty_postgres, replace=True)


def later_unit(o):
    shape = {"x_m": 0, "y_m": 0, "width_m": 2, "length_m": 2, "house_id": o.house.id}
    return shape | {"kind": "unit", "name": "U3", "opened_on": o.unit.opened_on}


def test_a_copy_of_postgresql_comes_back_into_a_file(o, engine, elsewhere):
    o.look(o.walk()[0])
    made = make(engine)
    restore(made.folder, elsewhere)
    assert rows(elsewhere) == rows(engine)


def test_a_restored_copy_can_be_copied_and_restored_again(made, elsewhere, tmp_path):
    restore(made.folder, elsewhere)
    again = make(elsewhere)
    third = open_database(f"sqlite:///{tmp_path / 'third' / 'benchwalk.sqlite'}")
    assert restore(again.folder, third).epoch == 3
    assert rows(third) == rows(elsewhere)
    third.dispose()
    shutil.rmtree(tmp_path / "third")
