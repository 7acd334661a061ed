"""The doctor: each thing it looks at, broken once, is named; what is well is said to be."""

import datetime as dt
import json
import uuid

import pytest
import sqlalchemy as sa
from typer.testing import CliRunner

import benchwalk.records as r
from benchwalk.cli import app
from benchwalk.records import doctor
from benchwalk.records.backup import make
from benchwalk.records.chain import Head, HeadRefusedError, head
from benchwalk.records.database import folder_of
from benchwalk.records.disk import FileSystem
from benchwalk.records.doctor import examine
from tests.records.small_operation import NINE


def keys(found, *levels):
    return {f.key for f in found if not levels or f.level in levels}


def test_what_is_well_is_said_to_be(o, engine):
    o.look(o.walk()[0])
    o.s.close()
    make(engine)
    found = examine(engine, rebuild=True)
    assert keys(found, "bad") == set()
    assert {"rules", "schema", "chain_up_to_last", "head", "orphans", "replay", "copy"} <= keys(
        found
    )
    assert keys(found, "warning") <= {"second_none", "clock_ahead", "clock_future", "little_room"}
    for locale in ("en", "es"):
        assert all(f.said(locale).strip() for f in found)


def test_it_says_up_to_the_last_row_held_without_an_outside_head(o, engine):
    said = [f.said("en") for f in examine(engine) if f.key.startswith("chain")]
    assert "whole up to the last row held" in said[0]
    against = examine(engine, [head(o.s)])
    assert "0 rows are past the last outside head" in " ".join(f.said("en") for f in against)


def test_a_head_of_another_operation_is_refused(o, engine):
    with pytest.raises(HeadRefusedError, match="give a head of this operation"):
        examine(engine, [Head(uuid.uuid4(), 1, "0" * 64)])


def test_a_rule_that_was_dropped_is_named(o, engine):
    with engine.begin() as c:
        on = " ON ledger" if engine.dialect.name == "postgresql" else ""
        c.exec_driver_sql(f"DROP TRIGGER ledger_ledger_order_insert{on}")
    found = [f for f in examine(engine) if f.key == "rules_lacking"]
    assert [f.level for f in found] == ["bad"]
    assert "ledger_ledger_order_insert" in found[0].said("en")


def without_rules(engine, connection):
    """As somebody does who can: a superuser's switch, or every trigger dropped."""
    if engine.dialect.name == "postgresql":
        connection.exec_driver_sql("SET LOCAL session_replication_role = replica")
        return
    found = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    for name in connection.exec_driver_sql(found).scalars().all():
        connection.exec_driver_sql(f"DROP TRIGGER {name}")


def test_a_line_added_by_hand_is_named_though_every_rule_lets_it_pass(o, engine):
    look = o.look(o.walk()[0])
    row = {"operation_id": o.n, "observation_id": look.id, "method": "leaf_count", "rev": 1}
    with engine.begin() as c:
        added = row | {"taxon": "thrips", "stage": "larva", "how": "counted", "number": 0}
        c.execute(sa.insert(r.Tally.__table__), added)
    found = [f for f in examine(engine, rebuild=True) if f.key.startswith("replay")]
    assert [f.key for f in found] == ["replay_added"]
    assert found[0].said(
        "en"
    ) == f"tally {look.id} leaf_count thrips larva: stands in the table," + (" and was never said.")


def test_a_row_changed_and_a_row_taken_out_behind_the_ledger_are_named(o, engine):
    look, other = o.look(o.walk()[0]), o.look(o.walk(unit=o.unit2)[0], unit=o.unit2)
    tally = r.Tally.__table__
    with engine.begin() as c:
        without_rules(engine, c)
        c.execute(sa.update(tally).where(tally.c.observation_id == look.id).values(number=4))
        c.execute(sa.delete(tally).where(tally.c.observation_id == other.id))
        c.execute(sa.update(r.House.__table__).values(name="H2"))
    named = {
        (f.key, f.values["table"], f.values["row"].split()[0], f.values["columns"])
        for f in examine(engine, rebuild=True)
        if f.key.startswith("replay")
    }
    assert named == {
        ("replay_changed", "tally", str(look.id), "number"),
        ("replay_lacking", "tally", str(other.id), "-"),
        ("replay_changed", "house", str(o.house.id), "name"),
    }


def test_replay_follows_corrections_and_voids(o, engine):
    look, void = o.look(o.walk()[0]), o.look(o.walk(unit=o.unit2)[0], unit=o.unit2)
    look.examined[0].tallies[0].number = 5
    o.s.commit()
    o.s.delete(void)
    o.s.commit()
    assert keys(examine(engine, rebuild=True), "bad") == set()


def test_a_changed_ledger_row_is_named(o, engine):
    with engine.begin() as c:
        without_rules(engine, c)
        c.execute(sa.text("UPDATE ledger SET body = '{}' WHERE seq = 4"))
    found = [f for f in examine(engine) if f.key == "chain_changed"]
    assert [(f.level, f.values) for f in found] == [("bad", {"first": 4, "last": 4})]


def test_a_damaged_file_is_said_to_be_and_nothing_more_is_asked_of_it(on_file, file):
    on_file.s.close()
    on_file.s.get_bind().dispose()
    held = bytearray(file.read_bytes())
    held[4096 * 2 : 4096 * 4] = b"\xff" * 8192
    file.write_bytes(held)
    found = examine(on_file.s.get_bind())
    assert (found[-1].key, found[-1].level) == ("damaged", "bad")


def test_clocks_that_ran_oddly_are_named(o, engine):
    o.s.info["seen_at"] = dt.datetime.now(dt.UTC) + dt.timedelta(hours=3)
    o.add(r.AirSpace(name="ahead"))
    newest = o.s.scalars(sa.select(sa.func.max(r.Ledger.seq))).one()
    found = {f.key: f.values for f in examine(engine)}
    assert found["clock_ahead"] == {"n": 1, "rows": str(newest)}
    later = {f.key for f in examine(engine, now=NINE)}
    assert "clock_future" in later


def test_a_clock_set_back_is_named(o, engine):
    newest = o.s.scalars(sa.select(sa.func.max(r.Ledger.seq))).one()
    with engine.begin() as c:
        without_rules(engine, c)
        past = sa.update(r.Ledger.__table__).where(r.Ledger.seq == newest)
        c.execute(past.values(received_at=NINE - dt.timedelta(days=99)))
    assert {f.key: f.values for f in examine(engine)}["clock_back"]["rows"] == str(newest)


def test_what_is_without_its_other_half_is_named(o, engine):
    photo = "a" * 64
    o.add(r.Sighting(unit_id=o.unit.id, seen_at=NINE, cause="pest", photo_sha256=photo))
    with engine.begin() as c:
        row = {"operation_id": o.n, "n": 1, "kind": "walk", "received_at": NINE}
        c.execute(sa.insert(r.Aside), row | {"reason": "conflict", "body": "{}"})
    (folder_of(engine) / ".restoring-x").mkdir(parents=True)
    found = {f.key: f.level for f in examine(engine)}
    assert (found["photos_lost"], found["aside"], found["half_done"]) == (
        "bad",
        "warning",
        "warning",
    )
    (folder_of(engine) / "photos").mkdir()
    (folder_of(engine) / "photos" / f"{photo}.jpg").write_bytes(b"x")
    assert "photos_lost" not in keys(examine(engine))


def test_little_room_and_a_far_file_system_are_said(on_file, monkeypatch):
    monkeypatch.setattr(doctor, "room_bytes", lambda path: 5 << 20)
    monkeypatch.setattr(doctor, "file_system", lambda path: FileSystem("NFS", False))
    found = {f.key: f.level for f in examine(on_file.s.get_bind())}
    assert (found["little_room"], found["file_system_far"]) == ("warning", "warning")


def test_what_was_proven_when_is_said(o, engine, tmp_path):
    assert "copy_none" in keys(examine(engine), "warning")
    make(engine, tmp_path / "stick")
    assert {"copy", "second"} <= keys(examine(engine), "ok")
    later = dt.datetime.now(dt.UTC) + dt.timedelta(days=2)
    assert "copy_old" in keys(examine(engine, now=later), "warning")


def run(*words):
    return CliRunner().invoke(app, list(words))


def test_the_command_says_it_in_words_and_as_json_and_ends_with_a_code(on_file, file):
    on_file.s.close()
    data = ["--data", str(file.parent)]
    well = run("doctor", *data)
    assert well.exit_code == 0
    assert "SQLite" in well.stdout
    assert "up to the last row held" in well.stdout
    with on_file.s.get_bind().begin() as c:
        without_rules(on_file.s.get_bind(), c)
    ill = run("doctor", "--json", *data)
    assert ill.exit_code == 1
    told = {f["key"]: f for f in json.loads(ill.stdout)}
    assert told["rules_lacking"]["level"] == "bad"
    assert told["sqlite"]["values"]["version"]


def test_a_head_from_a_file_or_typed_in_is_compared(on_file, file, tmp_path):
    now = str(head(on_file.s))
    on_file.s.close()
    (tmp_path / "head.txt").write_text(f"kept on paper: {now}\n")
    for given in (now, str(tmp_path / "head.txt")):
        found = run("doctor", "--against", given, "--data", str(file.parent))
        assert "agrees with the outside head" in found.stdout
    wrong = run("doctor", "--against", "no head", "--data", str(file.parent))
    assert (wrong.exit_code, "no head of a chain in" in wrong.stderr) == (1, True)


def test_where_there_are_no_records_it_says_so(tmp_path):
    found = run("doctor", "--data", str(tmp_path / "nothing"))
    assert found.exit_code == 1
    assert "there are no records at" in found.stderr
