"""Plain columns say the same as the objects they stand for, and refuse what no table has."""

import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records.base import Base, Line, Record
from benchwalk.records.ledger import body
from benchwalk.records.plain import Plain, plain, shape_of
from tests.in_turn import each_of

# in one order: each worker of a run must find the same tests in the same places
MODELS = sorted(
    (m.class_ for m in Base.registry.mappers if issubclass(m.class_, (Record, Line))),
    key=lambda model: model.__tablename__,
)


def a_look():
    counted = [r.Tally(taxon="thrips", stage="adult", number=0), r.Tally(taxon="a", stage="b")]
    examined = r.Examined(method="leaf_count", items=3, tallies=counted)
    return r.Observation(kind="look", why="sample", plants=1, examined=[examined])


@each_of("model", MODELS)
def test_the_shape_of_a_class_is_every_column_but_the_operation_and_the_rev(model):
    columns = {c.key for c in model.__table__.columns}
    assert shape_of(model).blank.keys() == columns - {"operation_id", "rev"}


@each_of("model", MODELS)
def test_lines_take_the_whole_key_of_what_they_are_a_part_of(model):
    for name, pairs in shape_of(model).lines.items():
        key = {c.key for c in sa.inspect(model).local_table.primary_key.columns}
        assert {here for _, here in pairs} == key - {"operation_id"}, name


def test_an_object_and_the_same_said_plainly_have_one_body():
    tallies = [Plain(r.Tally, taxon="thrips", stage="adult", number=0)]
    tallies.append(Plain(r.Tally, taxon="a", stage="b"))
    examined = [Plain(r.Examined, method="leaf_count", items=3, tallies=tallies)]
    said = Plain(r.Observation, kind="look", why="sample", plants=1, examined=examined)
    assert body(said) == body(plain(a_look()))


def test_a_zero_is_said_and_an_absent_number_is_not():
    zero, absent = body(plain(a_look()))["examined"][0]["tallies"]
    assert zero["number"] == 0
    assert "number" not in absent


def test_a_column_given_as_none_takes_its_default():
    assert Plain(r.Tally, how=None).columns()["how"] == "counted"
    assert Plain(r.Visit, fast=None).columns()["fast"] is False
    assert Plain(r.Visit, fast=True).columns()["fast"] is True


def test_a_default_that_is_made_is_made_for_every_row_anew():
    one, other = (Plain(r.Unit, name=name).columns()["former_names"] for name in "AB")
    assert one == {}
    assert one is not other


def test_a_default_that_is_made_does_not_hide_what_is_said():
    said = Plain(r.Unit, former_names={"North 3": ""})
    assert said.columns()["former_names"] == {"North 3": ""}


def test_a_name_that_is_no_column_is_refused_and_what_there_is_is_named():
    with pytest.raises(TypeError, match=r"tally has no numbr; it has .*number"):
        Plain(r.Tally, taxon="thrips", numbr=3)


def test_the_rev_is_not_said_but_given():
    with pytest.raises(TypeError, match="tally has no rev;"):
        Plain(r.Tally, rev=2)
