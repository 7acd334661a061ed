"""Rows that go to the driver directly are kept as SQLAlchemy's own insert keeps them."""

import datetime as dt
import uuid

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session

import benchwalk.records.accounts.tables  # noqa: F401 - its tables are there whoever runs first
from benchwalk.records.base import Base, Uid, Utc
from benchwalk.records.rows import insert_rows
from tests.in_turn import each_of

TABLES = [table.name for table in Base.metadata.sorted_tables]
SAID = {
    uuid.UUID: uuid.UUID("0190a6f0-0000-7000-8000-0000000000ff"),
    dt.datetime: dt.datetime(2026, 3, 10, 9, 30, tzinfo=dt.timezone(dt.timedelta(hours=-5))),
    dt.date: dt.date(2026, 3, 10),
    bool: True,
    int: 3,
    float: 0.25,
    str: "ñ 'quoted'",
    bytes: b"\0\xff",
    dict: {"b": [1, None], "a": "ñ"},
}


def value(column, k):
    ours = {Uid: uuid.UUID, Utc: dt.datetime, sa.JSON: dict}
    kind = ours.get(type(column.type)) or column.type.python_type
    if k and column.nullable:
        return None
    return {int: 3 + k, str: f"{SAID[str]}{k}", uuid.UUID: uuid.UUID(int=k + 1)}.get(
        kind, SAID[kind]
    )


def kept_by(insert, table):
    """Every value as SQLite holds it, with its type."""
    engine = sa.create_engine("sqlite://")
    bare = sa.MetaData()
    columns = [sa.Column(c.name, c.type, primary_key=c.primary_key) for c in table.columns]
    held = sa.Table(table.name, bare, *columns)
    bare.create_all(engine)
    with Session(engine) as s:
        insert(s, held, [{c.name: value(c, k) for c in table.columns} for k in (0, 1)])
        asked = ", ".join(f'"{c.name}", typeof("{c.name}")' for c in table.columns)
        found = s.connection().exec_driver_sql(f'SELECT {asked} FROM "{table.name}"').all()
    engine.dispose()
    return found


@each_of("name", TABLES)
def test_every_table_keeps_the_same_values_by_sqlalchemys_own_insert(name):
    table = Base.metadata.tables[name]
    ours = kept_by(insert_rows, table)
    assert len(ours) == 2
    assert ours == kept_by(lambda s, held, rows: s.execute(sa.insert(held), rows), table)


def test_a_row_that_lacks_a_column_is_refused_by_its_name():
    engine = sa.create_engine("sqlite://")
    with Session(engine) as s, pytest.raises(KeyError, match="observation_id"):
        insert_rows(s, Base.metadata.tables["tally"], [{"operation_id": 1}])
    engine.dispose()
