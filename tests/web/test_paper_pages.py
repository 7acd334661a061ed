"""A paper sheet is keyed in by keyboard alone, and lands as what was seen, none and not looked."""

from __future__ import annotations

import datetime as dt
import re
import shutil
import uuid

import pytest
import sqlalchemy as sa
from hypothesis import given
from hypothesis import strategies as st

import benchwalk.records as r
from benchwalk.records.database import open_database, session, writing
from benchwalk.records.ledger import verify
from benchwalk.records.paper import Cell, PaperRefusedError, read_cell
from benchwalk.web import Served, create_app
from tests.capture.a_phone import APhone
from tests.conftest import SMALL
from tests.in_turn import each_of
from tests.web.conftest import asking, kept_to_its_operation, listening, token_of

LEAF = ("leaf_count", "western_flower_thrips", "adult")
ROOT = ("root_inspection", "western_flower_thrips", "larva")


class Paper:
    """An operation with two targets, somebody who keys sheets, and a walk of today."""

    def __init__(self, phone, client):
        self.phone, self.client = phone, client
        self.walk = self.begun()

    def begun(self, **other):
        day = dt.datetime.now(dt.timezone(dt.timedelta(hours=-5))).date() - dt.timedelta(days=1)
        said = {"walk_on": day.isoformat(), "scout": self.phone.person} | other
        answer = self.client.post("/paper", data=said)
        return answer.headers.get("location", "").rpartition("/")[2] or answer

    def form(self, unit=None, walk=None):
        return f"/paper/{walk or self.walk}/{unit or self.phone.unit}"

    def blank(self):
        """The fields of the form as they stand."""
        page = self.client.get(self.form()).text
        inputs = re.findall(r'<input[^>]*name="([^"]+)"[^>]*?value="([^"]*)"', page)
        return dict(inputs) | {"seen_by": self.phone.person, "seen_at": "09:30", "state": "done"}

    def keys(self, *cells, **other):
        """Keys a sheet; cells are (row, column, text)."""
        typed = {f"c{row}:{'|'.join(key)}": text for row, key, text in cells}
        return self.client.post(self.form(), data=self.blank() | typed | other)

    def tallies(self):
        """(plant's place in the order keyed, method, taxon, stage, how, number), and items."""
        with session(self.phone.engine, self.phone.n) as s:
            looks = s.scalars(sa.select(r.Observation).order_by(r.Observation.id)).all()
            return [
                (
                    n,
                    e.method,
                    e.items,
                    look.plants,
                    sorted((t.stage, t.how, t.number) for t in e.tallies),
                )
                for n, look in enumerate(sorted(looks, key=lambda x: x.rev))
                for e in look.examined
            ]


@pytest.fixture
def engine(templates, tmp_path):
    """SQLite alone: what is the database's business is tested on both elsewhere."""
    shutil.copy(templates.sqlite(*SMALL), tmp_path / "benchwalk.sqlite")
    opened = open_database(f"sqlite:///{tmp_path / 'benchwalk.sqlite'}")
    yield opened
    opened.dispose()


@pytest.fixture
def phone(engine, small):
    phone = APhone(engine, small)
    with session(engine, phone.n) as s:
        for method, taxon, stage in (LEAF, ROOT):
            what = {"method": method, "taxon": taxon, "stage": stage}
            s.add(r.Target(unit_id=phone.o.unit.id, from_on=dt.date(2026, 1, 1), **what))
        s.commit()
    return phone


@pytest.fixture
def address(phone):
    with (
        kept_to_its_operation(phone.engine),
        listening(create_app(Served(phone.engine, phone.n))) as url,
    ):
        yield url


@pytest.fixture
def paper(phone, address):
    with asking(address, token_of(phone.engine, phone.n, "grower")) as client:
        yield Paper(phone, client)


def test_empty_is_not_looked_nought_is_none_and_a_part_without_a_word_was_not_examined(paper):
    answer = paper.keys((1, LEAF, "0"), (2, LEAF, "7"), (2, ROOT, "0"), **{"i:leaf_count": "3"})
    assert answer.status_code == 303, answer.text
    held = [(method, items, said) for _, method, items, _, said in paper.tallies()]
    assert sorted(held, key=str) == sorted(
        [
            ("leaf_count", 3, [("adult", "counted", 0)]),
            ("leaf_count", 3, [("adult", "counted", 7)]),
            ("root_inspection", None, [("larva", "counted", 0)]),
        ],
        key=str,
    )


def test_at_least_there_and_several_plants_together(paper):
    paper.keys((1, LEAF, "12+"), (2, LEAF, "x"), (3, ROOT, "0"), p3="5")
    held = sorted((said, plants) for *_, plants, said in paper.tallies())
    assert held == [
        ([("adult", "at_least", 12)], 1),
        ([("adult", "present", None)], 1),
        ([("larva", "counted", 0)], 5),
    ]


def test_it_is_seen_by_the_scout_at_that_time_and_typed_by_who_keyed_it(paper):
    paper.keys((1, LEAF, "2"))
    with session(paper.phone.engine, paper.phone.n) as s:
        rows = s.scalars(sa.select(r.Ledger).where(r.Ledger.typed_by_id.is_not(None))).all()
        assert {row.kind for row in rows} == {"walk", "visit", "observation"}
        for row in rows:
            assert str(row.by_id) == paper.phone.person
            assert row.typed_by_id != row.by_id
            assert row.device_id is None
        (look,) = [row for row in rows if row.kind == "observation"]
        # 09:30 in New York the day before today, whatever the season there
        local = look.seen_at.astimezone(Served(paper.phone.engine, paper.phone.n).zone)
        assert (local.hour, local.minute) == (9, 30)
        assert verify(s, paper.phone.n) is None


def test_the_same_sheet_sent_twice_is_written_once(paper):
    sheet = paper.blank() | {f"c1:{'|'.join(LEAF)}": "2"}
    assert paper.client.post(paper.form(), data=sheet).status_code == 303
    again = paper.client.post(paper.form(), data=sheet)
    assert again.status_code == 400
    assert "there already" in again.text
    assert len(paper.tallies()) == 1


def test_a_sheet_gone_back_to_and_sent_with_another_time_is_written_once(paper):
    sheet = paper.blank() | {f"c1:{'|'.join(LEAF)}": "2"}
    assert paper.client.post(paper.form(), data=sheet).status_code == 303
    again = paper.client.post(paper.form(), data=sheet | {"seen_at": "09:40"})
    assert again.status_code == 400
    assert "there already" in again.text
    assert len(paper.tallies()) == 1


def test_a_walk_begun_twice_by_one_form_is_one_walk(paper):
    page = paper.client.get("/paper").text
    (begun,) = re.findall(r'name="begun" value="([^"]+)"', page)
    assert paper.begun(begun=begun) == paper.begun(begun=begun) == begun
    with session(paper.phone.engine, paper.phone.n) as s:
        said = s.scalars(sa.select(r.Ledger.rev).where(r.Ledger.id == uuid.UUID(begun))).all()
    assert said == [1]


def test_a_column_that_is_asked_no_more_is_named_and_not_lost(paper):
    sheet = paper.blank() | {f"c1:{'|'.join(LEAF)}": "2", f"c1:{'|'.join(ROOT)}": "5"}
    with writing(paper.phone.engine, paper.phone.n) as s:
        s.delete(s.scalars(sa.select(r.Target).where(r.Target.method == ROOT[0])).one())
    answer = paper.client.post(paper.form(), data=sheet)
    assert answer.status_code == 400
    assert "asked of the unit no more: root_inspection western_flower_thrips larva" in answer.text
    assert paper.tallies() == []


def test_another_sheet_of_the_same_unit_adds_to_it(paper):
    paper.keys((1, LEAF, "2"))
    assert paper.keys((1, LEAF, "4")).status_code == 303
    assert len(paper.tallies()) == 2


def test_what_was_typed_stands_there_again_where_it_is_refused(paper):
    answer = paper.keys((1, LEAF, "3"), (2, LEAF, "thre"))
    assert answer.status_code == 400
    assert "thre" in answer.text.split('role="alert"')[1].split("</p>")[0]
    assert 'value="thre"' in answer.text
    assert 'value="3"' in answer.text
    assert paper.tallies() == []


@pytest.mark.parametrize(
    ("said", "word"),
    [
        ({"state": "skipped", "reason": "sign"}, "there are counts"),
        ({"state": "cut_short"}, "has a reason"),
        ({"state": "done", "reason": "sign"}, "no reason"),
        ({"state": "flown"}, "no state"),
        ({"seen_at": "25:00"}, "no time"),
        ({"seen_at": "09:30Z"}, "no time"),
        ({"p1": "0"}, "no count"),
        ({"p1": "501"}, "no count"),
        ({"p1": "9" * 5000}, "no count"),
        ({"p" + "9" * 5000: "1", "seen_at": "25:00"}, "no time"),
        ({"i:leaf_count": "many"}, "no count"),
        ({"sheet": "x"}, "sheet"),
        ({"seen_by": "x"}, "seen_by"),
    ],
)
def test_a_sheet_that_no_record_can_hold_is_refused_in_words_and_nothing_is_written(
    paper, said, word
):
    answer = paper.keys((1, LEAF, "2"), **said)
    assert answer.status_code == 400
    assert word in answer.text.split('role="alert"')[1].split("</p>")[0]
    assert paper.tallies() == []


def test_a_unit_nobody_looked_at_is_not_looked_with_its_reason(paper):
    assert paper.keys(state="skipped", reason="sign").status_code == 303
    with session(paper.phone.engine, paper.phone.n) as s:
        visit = s.scalars(sa.select(r.Visit)).one()
    assert (visit.state, visit.reason) == ("skipped", "sign")
    later = paper.keys((1, LEAF, "2"))
    assert later.status_code == 400
    assert "Correct that first" in later.text
    assert paper.tallies() == []


def test_walked_to_the_end_without_a_word_is_no_record(paper):
    assert "Key 0" in paper.keys().text
    assert paper.tallies() == []


def test_a_scout_keys_only_their_own_sheets(phone, address):
    with asking(address, token_of(phone.engine, phone.n, "scout")) as client:
        own = Paper(phone, client)
        assert own.keys((1, LEAF, "1")).status_code == 303
        with session(phone.engine, phone.n) as s:
            s.info["by_id"] = None
            other = r.Person(
                operation_id=phone.n, id=r.uuid7(), pseudonym="b", name="B", role="scout"
            )
            s.add(other)
            s.commit()
            somebody = str(other.id)
        assert own.begun(scout=somebody).status_code == 400
        assert own.keys((1, LEAF, "1"), seen_by=somebody).status_code == 400


@pytest.mark.parametrize("role", ["applicator", "advisor"])
def test_others_key_nothing(phone, address, role):
    with asking(address, token_of(phone.engine, phone.n, role)) as client:
        walk = r.uuid7()
        for path in ("/paper", f"/paper/{walk}", f"/paper/{walk}/sheet", f"/paper/{walk}/{walk}"):
            assert client.get(path).status_code == 403
        assert client.post("/paper", data={}).status_code == 403
        assert client.post(f"/paper/{walk}/{walk}", data={}).status_code == 403


def test_the_walks_and_units_of_another_operation_are_not_there(paper, engine):
    other = APhone(engine)
    walk = other.walk()
    other.sends(walk)
    for path in (
        f"/paper/{walk['id']}",
        f"/paper/{walk['id']}/sheet",
        f"/paper/{walk['id']}/{other.unit}",
        f"/paper/{paper.walk}/{other.unit}",
    ):
        assert paper.client.get(path).status_code == 404, path
    assert paper.client.post(f"/paper/{paper.walk}/{other.unit}", data={}).status_code == 404
    assert paper.client.post(f"/paper/{walk['id']}/{other.unit}", data={}).status_code == 404


def test_a_walk_on_paper_is_of_the_last_four_weeks(paper):
    for day in ("2031-01-01", "2020-01-01", "soon", ""):
        assert paper.begun(walk_on=day).status_code in (400, 422), day


def test_a_blank_sheet_has_a_row_for_each_plant_and_a_column_for_each_target(paper):
    page = paper.client.get(f"/paper/{paper.walk}/sheet").text
    first = page.split('<section class="blank">')[1]
    assert first.count('<th role="rowheader"') == 12
    assert first.count('<td role="cell"></td>') == 12 * 2


def test_every_cell_has_a_name_that_is_read_aloud(paper):
    page = paper.client.get(paper.form()).text
    cells = re.findall(r'<input name="c[^>]*>', page)
    labels = [re.search(r'aria-label="([^"]+)"', cell)[1] for cell in cells]
    assert len(set(labels)) == len(cells) == 24


@given(st.integers(0, 9999), st.sampled_from(["{}", " {} ", "{}+", ">{}"]))
def test_a_cell_says_the_number_that_was_typed(number, form):
    text = form.format(number)
    if number == 0 and ("+" in form or ">" in form):
        with pytest.raises(PaperRefusedError, match="no count"):
            read_cell(text, "1")
        return
    how = "at_least" if "+" in form or ">" in form else "counted"
    assert read_cell(text, "1") == Cell(how, number)


@each_of("text", ["-1", "1.5", "1,5", "10000", "xx", "1 2", "+", "²", "٣", "0x1"])
def test_a_cell_that_is_no_count_is_refused_with_what_was_typed(text):
    with pytest.raises(PaperRefusedError, match=re.escape(text)):
        read_cell(text, "1")
