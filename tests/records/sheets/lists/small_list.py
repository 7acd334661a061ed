"""A list of a few lines, read, or brought into an operation."""

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records.database import session
from benchwalk.records.setup import only_operation
from benchwalk.records.sheets.lists.bring import ListFile
from benchwalk.records.sheets.lists.reading import read_list
from benchwalk.records.sheets.mappings import Kept
from benchwalk.records.sheets.table import table_of

NEW_YORK = ZoneInfo("America/New_York")


def table(text, file="list.csv"):
    return table_of(text.encode(), file)


def read(kind, *lines, zone=NEW_YORK, answers=None, **more):
    text = "\n".join([*lines, ""])
    return read_list(table(text), kind, zone=zone, answers=answers or {}, **more)


def only(reading):
    """The one thing that a list of one row says."""
    assert [reason_of(x) for x in reading.rejects] == []
    (thing,) = reading.things
    return thing


def reason_of(reject):
    return reject.reason


def reasons(reading):
    return [(x.at.row, x.reason) for x in reading.rejects]


class Nursery:
    """An operation set up anew, into which lists are brought."""

    def __init__(self, engine, tmp_path):
        self.engine = engine
        self.operation = only_operation(engine)
        self.kept = Kept(tmp_path / "kept")
        self.rejects = tmp_path / "left.csv"

    def bring(self, kind, *lines, answers=None, agree=lambda _: True, file="list.csv"):
        held = table("\n".join([*lines, ""]), file)
        return self.bring_table(kind, held, answers, agree)

    def bring_table(self, kind, held, answers=None, agree=lambda _: True):
        return self.file(kind, held, answers).bring(
            self.engine, self.operation, agree=agree, rejects=self.rejects
        )

    def look(self, kind, held, answers=None):
        return self.file(kind, held, answers).look(self.engine, self.operation)

    def file(self, kind, held, answers=None):
        return ListFile(kind, held, answers or {}, self.kept)

    def all(self, model):
        with session(self.engine, self.operation) as s:
            return s.scalars(sa.select(model)).all()

    def one(self, model):
        (row,) = self.all(model)
        return row

    def count(self, table_name):
        table_ = r.Base.metadata.tables[table_name]
        query = sa.select(sa.func.count()).where(table_.c.operation_id == self.operation)
        with self.engine.connect() as connection:
            return connection.execute(query.select_from(table_)).scalar_one()

    def ledger_length(self):
        return self.count("ledger")


@pytest.fixture
def nursery(engine, tmp_path):
    return Nursery(engine, tmp_path)


def utc(year, month, day, hour=0, minute=0):
    return dt.datetime(year, month, day, hour, minute, tzinfo=dt.UTC)
