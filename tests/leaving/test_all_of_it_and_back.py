"""The whole of an operation leaves and is taken up elsewhere: the same records, the same chain."""

import datetime as dt
import json
import shutil

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import benchwalk.records as r
from benchwalk.catalogue import Refusal
from benchwalk.records.database import open_database, session
from benchwalk.records.exports import full as full_module
from benchwalk.records.exports.adopt import adopt
from benchwalk.records.exports.full import write_full
from benchwalk.records.exports.moment import moment
from benchwalk.records.ledger import canonical, digest, verify
from tests.conftest import fresh_postgres
from tests.leaving.eventful import NAME
from tests.leaving.every_row import rows
from tests.records.small_operation import SmallOperation


@pytest.fixture(scope="module")
def emptied(sqlite_template):
    """Opens a SQLite file with tables and no operation, in a folder."""

    def opened(folder):
        return open_database(f"sqlite:///{shutil.copy(sqlite_template, folder / 'b.sqlite')}")

    return opened


@pytest.fixture(params=["sqlite", "postgres"])
def elsewhere(request, tmp_path, engine, emptied):
    """Another database, empty; of either kind."""
    if request.param == "sqlite":
        opened = emptied(tmp_path)
    elif engine.dialect.name == "postgresql":
        opened = open_database(second_postgres(request.getfixturevalue("postgres_template")))
    else:
        opened = open_database(fresh_postgres(request.getfixturevalue("postgres_template")))
    yield opened
    opened.dispose()


def second_postgres(server):
    """A second fresh database on the test server."""
    admin = sa.create_engine(server, isolation_level="AUTOCOMMIT")
    with admin.connect() as c:
        c.exec_driver_sql("DROP DATABASE IF EXISTS elsewhere WITH (FORCE)")
        c.exec_driver_sql("CREATE DATABASE elsewhere TEMPLATE template_records")
    admin.dispose()
    return sa.make_url(server).set(database="elsewhere").render_as_string(hide_password=False)


@pytest.fixture
def full(now, tmp_path):
    folder = tmp_path / "full"
    folder.mkdir()
    write_full(now, folder)
    return folder


def head(engine, operation):
    with engine.connect() as c:
        last = sa.select(r.Ledger.seq, r.Ledger.digest).where(r.Ledger.operation_id == operation)
        return c.execute(last.order_by(r.Ledger.seq.desc()).limit(1)).one()


def test_what_is_taken_up_equals_what_left_row_by_row(e, engine, full, elsewhere):
    done = adopt(elsewhere, full)
    mine, theirs = rows(engine, e.n), rows(elsewhere, done.operation)
    assert mine.keys() == theirs.keys()
    for table in mine:
        assert theirs[table] == mine[table], table
    assert len(mine["tally"]) > 10


def test_the_chain_ends_alike_and_is_whole(e, engine, full, elsewhere):
    done = adopt(elsewhere, full)
    seq, last = head(engine, e.n)
    assert head(elsewhere, done.operation) == (seq, last)
    assert (done.rows, done.head) == (seq, last.hex())
    with elsewhere.connect() as c:
        assert verify(c, done.operation) is None


def test_it_lands_beside_another_operation_under_a_number_of_its_own(e, engine, full, elsewhere):
    other = SmallOperation(elsewhere)
    before = rows(elsewhere, other.n)
    done = adopt(elsewhere, full)
    assert done.operation == other.n + 1
    assert rows(elsewhere, other.n) == before
    assert rows(elsewhere, done.operation) == rows(engine, e.n)
    other.s.close()


def test_it_goes_on_being_written_to_where_it_was_taken_up(e, full, elsewhere):
    done = adopt(elsewhere, full)
    with session(elsewhere, done.operation, e.person) as s:
        movement = s.scalars(sa.select(r.Movement).where(r.Movement.kind == "ship")).one()
        movement.plants = 96
        with pytest.raises(sa.exc.DBAPIError, match="more plants leave than are there"):
            s.commit()
        s.rollback()
        movement.plants = 91
        s.commit()
        assert verify(s, done.operation) is None


def test_what_is_taken_up_leaves_again_as_the_same_bytes(full, elsewhere, tmp_path):
    done = adopt(elsewhere, full)
    again = tmp_path / "again"
    again.mkdir()
    with moment(elsewhere, done.operation) as s:
        write_full(s, again)
    for path in full.iterdir():
        assert (again / path.name).read_bytes() == path.read_bytes(), path.name


def test_the_ledger_file_holds_every_row_and_no_name(e, engine, full):
    lines = (full / "ledger.jsonl").read_text("utf-8").splitlines()
    assert len(lines) == head(engine, e.n).seq
    assert [json.loads(line)["seq"] for line in lines] == list(range(1, len(lines) + 1))
    structure = [json.loads(line) | {"body": "", "void_reason": ""} for line in lines]
    assert NAME not in json.dumps(structure, ensure_ascii=False)
    assert {p.name for p in full.iterdir() if NAME in p.read_text("utf-8")} == {"names.jsonl"}


def test_without_the_file_of_names_all_but_the_names_is_taken_up(e, engine, full, elsewhere):
    (full / "names.jsonl").unlink()
    done = adopt(elsewhere, full)
    mine, theirs = rows(engine, e.n), rows(elsewhere, done.operation)
    assert {k: v for k, v in theirs.items() if k != "person"} == {
        k: v for k, v in mine.items() if k != "person"
    }
    assert [(i, p, role) for i, p, _, role in mine["person"]] == [
        (i, p, role) for i, p, _, role in theirs["person"]
    ]
    assert {name for _, _, name, _ in theirs["person"]} == {None}


def changed(folder, edit):
    """The ledger file with its lines edited."""
    path = folder / "ledger.jsonl"
    lines = path.read_text("utf-8").splitlines(keepends=True)
    edit(lines)
    path.write_text("".join(lines), encoding="utf-8")


def nothing_kept(engine):
    with engine.connect() as c:
        return all(
            c.execute(sa.select(sa.func.count()).select_from(t)).scalar() == 0
            for t in r.Base.metadata.sorted_tables
        )


TAMPERED = {
    "a row left out": (lambda lines: lines.pop(20), "does not follow"),
    "the last row left out": (lambda lines: lines.pop(), "ends at row"),
    "two rows swapped": (
        lambda lines: lines.__setitem__(slice(5, 7), [lines[6], lines[5]]),
        "does not follow",
    ),
    "a number changed": (
        lambda lines: lines.__setitem__(3, lines[3].replace('"rev":1', '"rev":2')),
        "does not follow",
    ),
    "a row twice": (lambda lines: lines.append(lines[-1]), "does not follow"),
}


@pytest.mark.parametrize("what", TAMPERED)
def test_a_ledger_that_is_not_the_one_that_left_is_refused_whole(full, tmp_path, what, emptied):
    edit, sentence = TAMPERED[what]
    changed(full, edit)
    engine = emptied(tmp_path)
    with pytest.raises(Refusal, match=sentence):
        adopt(engine, full)
    assert nothing_kept(engine)
    engine.dispose()


def test_a_chain_made_anew_over_a_changed_row_does_not_end_as_it_said(full, tmp_path, emptied):
    """Whoever rewrites all digests is caught by the end of the chain in operation.json."""
    path = full / "ledger.jsonl"
    before, out = b"", []
    for line in path.read_text("utf-8").splitlines():
        row = json.loads(line)
        row["body"] = row["body"].replace("mix", "max")
        before = digest(before, {**row, **_instants(row)})
        out.append(canonical(row | {"digest": before.hex()}) + "\n")
    path.write_text("".join(out), encoding="utf-8")
    engine = emptied(tmp_path)
    with pytest.raises(Refusal, match="another end of the chain"):
        adopt(engine, full)
    assert nothing_kept(engine)
    engine.dispose()


def _instants(row):
    return {n: dt.datetime.fromisoformat(row[n]) for n in ("seen_at", "received_at")}


@pytest.mark.parametrize("name", ["people.jsonl", "aside.jsonl", "devices.jsonl", "names.jsonl"])
def test_a_smaller_file_that_was_changed_is_refused(full, tmp_path, name, emptied):
    with (full / name).open("a", encoding="utf-8") as file:
        file.write(" \n")
    engine = emptied(tmp_path)
    with pytest.raises(Refusal, match=f"{name} is not as it was exported"):
        adopt(engine, full)
    engine.dispose()


def test_a_folder_that_is_no_full_export_or_a_newer_one_is_refused(full, tmp_path, emptied):
    engine = emptied(tmp_path)
    with pytest.raises(Refusal, match=r"has no operation\.json"):
        adopt(engine, tmp_path)
    about = json.loads((full / "operation.json").read_text("utf-8"))
    (full / "operation.json").write_text(json.dumps(about | {"form": 2}), encoding="utf-8")
    with pytest.raises(Refusal, match="form 2; this version reads up to 1"):
        adopt(engine, full)
    engine.dispose()


def test_an_operation_is_not_taken_up_twice(full, tmp_path, emptied):
    engine = emptied(tmp_path)
    adopt(engine, full)
    with pytest.raises(Refusal, match="o1 is here already"):
        adopt(engine, full)
    engine.dispose()


def test_an_export_of_which_a_ledger_row_is_hidden_is_refused(e, engine, tmp_path, monkeypatch):
    """One ledger row left out: here by hand, elsewhere by a role that is not shown it."""
    whole = full_module.ledger_rows
    monkeypatch.setattr(
        full_module, "ledger_rows", lambda s: (x for x in whole(s) if x["seq"] != 7)
    )
    with moment(engine, e.n) as s, pytest.raises(Refusal, match="ledger rows could be read"):
        write_full(s, tmp_path)


def test_the_demo_is_taken_up_row_by_row(nursery, tmp_path, emptied):
    engine, operation = nursery
    (tmp_path / "full").mkdir()
    with moment(engine, operation) as s:
        write_full(s, tmp_path / "full")
    there = emptied(tmp_path)
    done = adopt(there, tmp_path / "full")
    assert rows(there, done.operation) == rows(engine, operation)
    assert done.head == head(engine, operation).digest.hex()
    there.dispose()


TEXT = st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=20)


@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(TEXT, min_size=1, max_size=4))
def test_hostile_texts_go_there_and_back_letter_by_letter(
    sqlite_template, tmp_path_factory, emptied, texts
):
    folder = tmp_path_factory.mktemp("hostile")
    shutil.copy(sqlite_template, folder / "a.sqlite")
    engine = open_database(f"sqlite:///{folder / 'a.sqlite'}")
    o = SmallOperation(engine)
    for text in texts:
        said = {"unit_id": o.unit.id, "seen_at": o.card.hung_at, "cause": "not_known"}
        sighting = o.add(r.Sighting(words=text, **said))
        sighting.pattern = text
        o.s.commit()
    (folder / "full").mkdir()
    with moment(engine, o.n) as s:
        write_full(s, folder / "full")
    there = emptied(folder)
    done = adopt(there, folder / "full")
    assert rows(there, done.operation)["sighting"] == rows(engine, o.n)["sighting"]
    o.s.close()
    engine.dispose()
    there.dispose()
