"""One person's data: given to them, found where somebody typed their name, and taken away."""

import json
import re
import uuid

import pytest
import sqlalchemy as sa
from hypothesis import given
from hypothesis import strategies as st

import benchwalk.records as r
from benchwalk.catalogue import Refusal
from benchwalk.records.database import open_database, writing
from benchwalk.records.exports import names, persons
from benchwalk.records.exports.moment import moment
from benchwalk.records.ledger import verify
from tests.leaving.eventful import NAME, OTHER, WORDS
from tests.records.small_operation import SmallOperation


def own(now, tmp_path, words):
    """The folder of one person's export, and its rows."""
    folder = tmp_path / "own"
    folder.mkdir()
    count = persons.write_person(now, persons.person_of(now, words), folder)
    lines = (folder / "said.jsonl").read_text("utf-8").splitlines()
    assert len(lines) == count
    return folder, [json.loads(line) for line in lines]


@pytest.mark.parametrize("words", [NAME, "ana q. exempel", "scout 1", " SCOUT 1 "])
def test_a_person_is_found_by_name_or_pseudonym_in_any_case(e, now, words):
    assert persons.person_of(now, words).id == e.person


def test_nobody_and_several_are_told_apart(e, now):
    with pytest.raises(Refusal, match=r"Nobody is called Q here\. Give a name or one of: grower 1"):
        persons.person_of(now, "Q")
    e.s.execute(sa.update(r.Person).where(r.Person.id == e.other).values(name=NAME))
    e.s.commit()
    now.rollback()
    with pytest.raises(Refusal, match="Several people are called"):
        persons.person_of(now, NAME)


def test_their_own_data_is_who_they_are_and_all_they_said(e, now, tmp_path):
    folder, rows = own(now, tmp_path, NAME)
    who = json.loads((folder / "person.json").read_text("utf-8"))
    assert who == {"id": str(e.person), "pseudonym": "scout 1", "role": "scout", "name": NAME}
    said = now.scalars(sa.select(r.Ledger.seq).where(r.Ledger.by_id == e.person)).all()
    assert {row["seq"] for row in rows} >= set(said)
    assert len(said) > 20


def test_what_others_typed_of_their_walks_is_theirs_too(e, engine, tmp_path):
    with writing(engine, e.n, e.other) as s:
        walk = r.Walk(walk_on=e.seen.walk_on, scout_id=e.person)
        s.add(walk)
        s.flush()
        visit = r.Visit(walk_id=walk.id, unit_id=e.unit.id, state="done", note="typed later")
        s.add(visit)
        s.flush()
        typed = visit.id
    with moment(engine, e.n) as now:
        _, rows = own(now, tmp_path, NAME)
    assert str(typed) in {row["id"] for row in rows}


def test_somebody_who_said_nothing_has_only_what_names_them_by_id(e, now, tmp_path):
    _, rows = own(now, tmp_path, OTHER)
    assert [row["kind"] for row in rows] == ["application"]


def test_no_name_of_another_person_is_left_in_one_persons_data(e, now, tmp_path):
    folder, rows = own(now, tmp_path, NAME)
    text = "".join(p.read_text("utf-8") for p in folder.iterdir())
    for word in (OTHER, *OTHER.split()):
        if len(word) >= names.SHORTEST:
            assert names.simple(word) not in names.simple(text)
    assert '"void_reason":"wrong bench, says [grower 1]"' in text
    (sighting,) = [json.loads(x["body"]) for x in rows if x["kind"] == "sighting"]
    assert sighting["words"].startswith(WORDS[:60])


def test_codes_ids_and_days_are_never_masked(e, engine, tmp_path):
    """A person called like a taxon, a crop, a kind of record: only what was typed is masked."""
    called = r.uuid7()
    with writing(engine, e.n) as s:
        s.execute(
            sa.insert(r.Person).values(
                operation_id=e.n, id=called, pseudonym="manager 1", name="Thrips Pansy Sample",
                role="manager",
            )
        )  # fmt: skip
    with moment(engine, e.n) as now:
        _, rows = own(now, tmp_path, NAME)
        held = {(row.id, row.rev): row for row in now.scalars(sa.select(r.Ledger))}
        for row in rows:
            before = json.loads(held[uuid.UUID(row["id"]), row["rev"]].body)
            for key in ("taxon", "crop", "why", "kind", "id", "walk_id", "examined", "code"):
                assert json.loads(row["body"]).get(key) == before.get(key)


TEXT = st.text(max_size=20)


def replaced(text, pattern, by):
    return "".join(words for words, _ in names._parted((text, False), pattern, by, None))


@given(TEXT, TEXT, st.sampled_from(["Ana Exempel", "ÁNA EXEMPEL", "ana", "EXÉMPEL", "Ana"]))
def test_a_name_is_masked_whatever_stands_around_it(before, after, name):
    pattern = names.pattern_of("Ána Exempel")
    text = f"{before} {name} {after}"
    masked = replaced(text, pattern, "[scout 1]")
    assert pattern.search(names.simple(masked)) is None
    rest = replaced(before + " ", pattern, "[scout 1]")
    assert masked.startswith(rest + "[scout 1]")


@given(st.text(max_size=40))
def test_a_text_without_the_name_stays_letter_by_letter(text):
    pattern = names.pattern_of("Qqxyz Wwxyz")
    if "wxyz" not in names.simple(text) and "qxyz" not in names.simple(text):
        assert replaced(text, pattern, "[x]") == text


def test_a_part_of_another_word_is_no_name():
    pattern = names.pattern_of("Ana Rose")
    for word in ("banana", "rose_aphid", "anatomy", "roses"):
        assert pattern.search(names.simple(word)) is None
    assert names.pattern_of("", " ") is None


def test_every_text_that_names_somebody_is_listed_with_its_place(e, now):
    """By hand from tests/leaving/eventful.py: a note, words of a sighting, a phone, an aside."""
    found = list(persons.mentions(now, NAME))
    assert sorted((m.kind, m.field, m.current) for m in found) == [
        ("aside", "body", True),
        ("device", "label", True),
        ("observation", "note", True),
        ("sighting", "words", True),
    ]
    assert all((m.seq is None) == (m.kind in ("aside", "device")) for m in found)
    of_other = [(m.kind, m.field, m.current) for m in persons.mentions(now, "Bo Beispiel")]
    assert ("observation", "void_reason", False) in of_other


def test_what_was_corrected_is_listed_as_held_by_the_ledger_only(e, engine):
    seen = e.s.scalars(sa.select(r.Sighting)).one()
    seen.words = "shown by a colleague"
    e.s.commit()
    with moment(engine, e.n) as now:
        found = [m for m in persons.mentions(now, NAME) if m.kind == "sighting"]
    assert [(m.current, m.text) for m in found] == [(False, WORDS)]


def removed(e, engine):
    with writing(engine, e.n) as s:
        persons.remove(s, persons.person_of(s, NAME))


def test_a_person_removed_leaves_records_and_chain_as_they_were(e, engine):
    def held():
        with engine.connect() as c:
            return {
                t.name: c.execute(sa.select(t).order_by(*t.primary_key)).all()
                for t in r.Base.metadata.sorted_tables
                # accounts are kept apart: a way in goes, and that it went is noted
                if t.name not in ("person", "account_event")
            }

    before = held()
    removed(e, engine)
    assert held() == before
    with moment(engine, e.n) as s:
        assert verify(s, e.n) is None
        person = s.get(r.Person, (e.n, e.person))
        assert (person.name, person.pseudonym, person.role) == (None, "scout 1", "scout")
        assert s.get(r.Person, (e.n, e.other)).name == OTHER


def test_after_removal_the_name_can_still_be_looked_for(e, engine):
    removed(e, engine)
    with moment(engine, e.n) as s:
        assert len(list(persons.mentions(s, NAME))) == 4


def test_the_bytes_of_a_removed_name_are_gone_from_the_file(sqlite_template, tmp_path):
    """SQLite: freed pages keep what they held unless secure_delete is on (sqlite.org/pragma)."""
    path = tmp_path / "a.sqlite"
    path.write_bytes(sqlite_template.read_bytes())
    engine = open_database(f"sqlite:///{path}")
    o = SmallOperation(engine)
    # longer than the row that takes its place, so that freed bytes are left to be looked at
    name = "Zebulonia " + "Quarzfeld " * 60
    o.s.execute(sa.update(r.Person).values(name=name))
    o.s.commit()
    o.s.close()
    engine.dispose()
    assert name.encode() in path.read_bytes()
    with writing(engine, o.n) as s:
        # some builds of SQLite have it on from the start, others not
        s.connection().exec_driver_sql("PRAGMA secure_delete=OFF")
        persons.remove(s, persons.person_of(s, "scout 1"))
    engine.dispose()
    held = b"".join(p.read_bytes() for p in tmp_path.iterdir())
    assert re.search(b"Zebulonia|Quarzfeld", held) is None
