"""CSV with its description: another program reads it, and nothing in it is made up."""

import datetime as dt
import json
from collections import Counter

import frictionless
import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records import queries
from benchwalk.records.database import session
from benchwalk.records.exports.cells import unguarded
from benchwalk.records.exports.moment import moment
from benchwalk.records.exports.package import write_package
from tests.leaving.eventful import NAME, OTHER, WORDS

EVER, LATE = dt.date(2000, 1, 1), dt.date(2100, 1, 1)


@pytest.fixture
def package(now, tmp_path):
    folder = tmp_path / "package"
    folder.mkdir()
    write_package(now, folder)
    return folder


@pytest.fixture(scope="session")
def of_demo(nursery, tmp_path_factory):
    folder = tmp_path_factory.mktemp("package")
    with moment(*nursery) as s:
        write_package(s, folder)
    return folder


def valid(folder):
    """What frictionless (the reference library of the standard) finds wrong."""
    report = frictionless.validate(str(folder / "datapackage.json"))
    assert report.stats["tasks"] > 30
    return report.flatten(["type", "note", "rowNumber", "fieldName"])


def test_frictionless_finds_no_fault(package):
    assert valid(package) == []


@pytest.mark.slow
def test_frictionless_finds_no_fault_in_the_demo(of_demo):
    assert valid(of_demo) == []


def test_frictionless_would_find_a_reference_that_leads_nowhere(package):
    """That the check above can fail: a tally of a look that is not there."""
    path = package / "tally.csv"
    *_, last = path.read_text("utf-8").splitlines()
    with path.open("a", encoding="utf-8", newline="") as file:
        file.write(str(r.uuid7()) + last[36:] + "\r\n")
    about = json.loads((package / "datapackage.json").read_text("utf-8"))
    for resource in about["resources"]:
        del resource["hash"], resource["bytes"]
    (package / "datapackage.json").write_text(json.dumps(about), encoding="utf-8")
    assert {fault[0] for fault in valid(package)} == {"foreign-key"}


def test_each_of_the_five_absences_has_its_word_and_only_looked_none_has_a_number(package, read):
    """Counted by hand in tests/leaving/eventful.py."""
    rows = read(package / "counts.csv")
    assert Counter(row["looked"] for row in rows) == {
        "found": 7,
        "looked, none": 5,
        "not looked": 3,
        "not sent yet": 1,
        "no word": 1,
        "void": 2,
    }
    for row in rows:
        if row["looked"] in ("not looked", "not sent yet", "no word", "void"):
            assert row["number"] == row["looked"]
            assert (row["mean"], row["infested"]) == ("", "")
    reasons = Counter(row["reason"] for row in rows if row["looked"] == "not looked")
    assert reasons == {"sign": 1, "nothing examined": 1, "missing": 1}
    zeros = [row for row in rows if row["number"] == "0"]
    assert {row["looked"] for row in zeros} == {"looked, none"}
    assert {row["how"] for row in zeros} == {"counted"}


def test_a_reader_of_the_standard_sees_no_number_where_nobody_looked(package):
    """frictionless reads the words as missing and the zeros as zeros."""
    counts = frictionless.Package(str(package / "datapackage.json")).get_resource("counts")
    rows = [row.to_dict() for row in counts.read_rows()]
    none = [row["number"] for row in rows if row["looked"] not in ("found", "looked, none")]
    assert none == [None] * 7
    assert sum(row["number"] == 0 for row in rows) == 3


def test_a_look_that_found_nothing_at_all_has_no_taxon_and_no_number(package, read):
    (empty,) = [row for row in read(package / "counts.csv") if row["reason"] == "nothing found"]
    assert (empty["taxon"], empty["number"], empty["looked"]) == ("", "", "looked, none")
    assert (empty["plants"], empty["items"], empty["crop"]) == ("1", "3", "pansy")


def test_no_name_of_a_person_stands_in_a_description_or_a_table_of_people(package, read):
    assert [set(row) for row in read(package / "person.csv")] == [{"id", "pseudonym", "role"}] * 2
    typed = {"observation.csv", "sighting.csv", "counts.csv"}
    for path in package.iterdir():
        text = path.read_text("utf-8")
        assert NAME not in text
        assert OTHER not in text or path.name in typed


def test_texts_are_guarded_and_read_back_as_they_were(package, read, now):
    (row,) = read(package / "sighting.csv")
    (held,) = now.scalars(sa.select(r.Sighting))
    assert row["words"] == "'" + WORDS
    for field in ("words", "pattern", "position", "photo_sha256"):
        assert unguarded(row[field]) == getattr(held, field)
    assert (row["pattern"], row["photo_sha256"]) == ("'", "")
    (spray,) = read(package / "application.csv")
    assert spray["what"] == "'@home mix\ttwice"


def test_every_table_of_records_is_there_row_for_row(package, read, now):
    for table in r.Base.metadata.sorted_tables:
        if table.info.get("kind"):
            mine = sa.select(sa.func.count()).select_from(table)
            held = now.execute(mine.where(table.c.operation_id == now.info["operation_id"]))
            assert len(read(package / f"{table.name}.csv")) == held.scalar(), table.name


def test_the_same_records_give_the_same_bytes(now, package, tmp_path):
    again = tmp_path / "again"
    again.mkdir()
    write_package(now, again)
    for path in again.iterdir():
        assert path.read_bytes() == (package / path.name).read_bytes()


def test_counts_of_the_demo_are_those_of_the_named_queries(of_demo, nursery, read):
    """`queries.rounds`, `catches` and `called` add up in SQL what the file has row by row."""
    rows = read(of_demo / "counts.csv")
    with session(*nursery) as s:
        rounds = queries.rounds(s, EVER, LATE)
        catches = queries.catches(s, EVER, LATE, dt.UTC)
        called = queries.called(s, EVER, LATE)
    looks = [row for row in rows if row["kind"] == "look" and row["taxon"]]
    assert len(looks) == sum(one.looks for one in rounds)
    assert sum(int(row["number"]) for row in looks) == sum(one.total for one in rounds)
    nothing = sum(row["looked"] == "looked, none" for row in looks)
    found = sum(row["looked"] == "found" for row in looks)
    assert found == sum(one.infested for one in rounds)
    assert nothing == sum(one.looks - one.infested for one in rounds)
    assert sum(row["kind"] == "reading" and row["taxon"] != "" for row in rows) == len(catches)
    skipped = sum(one.state == "skipped" for one in called)
    no_word = sum(one.state is None for one in called)
    assert (skipped, no_word) == (6, 6)
    assert sum(row["looked"] == "not looked" and row["kind"] == "" for row in rows) == skipped
    assert sum(row["looked"] == "no word" for row in rows) == no_word
