"""An export holds one operation's records, even where the program forgets to ask for them only."""

import contextlib
import shutil

import openpyxl
import polars as pl
import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.catalogue import Refusal
from benchwalk.records import ledger
from benchwalk.records.database import open_database
from benchwalk.records.exports.columns import write_columns
from benchwalk.records.exports.darwin import write_darwin
from benchwalk.records.exports.full import write_full
from benchwalk.records.exports.moment import moment
from benchwalk.records.exports.package import write_package
from benchwalk.records.exports.workbook import write_workbook
from tests.conftest import fresh_postgres
from tests.leaving.eventful import Eventful

MARK = "of somebody else"
WRITERS = {
    "package": write_package,
    "xlsx": lambda s, folder: write_workbook(s, folder / "a.xlsx"),
    "parquet": write_columns,
    "darwin": write_darwin,
    "full": write_full,
}


@pytest.fixture
def foreign(e, engine):
    """A second operation in the same database, with marks of its own in every text."""
    other = Eventful(engine)
    marked(other)
    yield other
    other.s.close()


def marked(other):
    for model, column in ((r.House, "name"), (r.Unit, "name"), (r.Sighting, "words")):
        for row in other.s.scalars(sa.select(model)):
            setattr(row, column, f"{MARK} {row.id}")
    other.s.commit()


@contextlib.contextmanager
def filter_dropped():
    """The one place that adds the operation to every query, taken out."""
    where = (ledger.Ledgered, "do_orm_execute", ledger._keep_to_operation)
    sa.event.remove(*where)
    try:
        yield
    finally:
        sa.event.listen(*where)


def marks(engine, other):
    """What only the other operation has: its ids, and its words."""
    with engine.connect() as c:
        tables = [t for t in r.Base.metadata.sorted_tables if t.info.get("kind") == "record"]
        found = {MARK}
        for table in tables:
            mine = sa.select(table.c.id).where(table.c.operation_id == other.n)
            found |= {str(row) for row in c.execute(mine).scalars()}
    return found


def text_of(folder):
    """All of a folder as text; workbooks and columns as what their readers say."""
    out = []
    for path in sorted(p for p in folder.rglob("*") if p.is_file()):
        if path.suffix == ".xlsx":
            book = openpyxl.load_workbook(path)
            out += [str(row) for sheet in book for row in sheet.iter_rows(values_only=True)]
        elif path.suffix == ".parquet":
            out.append(str(pl.read_parquet(path).rows()))
        else:
            out.append(path.read_text("utf-8"))
    return "\n".join([*out, *(str(p) for p in folder.rglob("*"))])


def written(engine, number, folder, write):
    folder.mkdir()
    with moment(engine, number) as s:
        if engine.dialect.name == "postgresql":
            as_a_clerk(s.connection(), number)
        write(s, folder)
    return text_of(folder)


def as_a_clerk(connection, number):
    """A role that owns nothing, for the rest of this transaction, after which it is gone again."""
    connection.exec_driver_sql("SET LOCAL ROLE NONE")
    connection.exec_driver_sql("CREATE ROLE clerk")
    connection.exec_driver_sql("GRANT SELECT ON ALL TABLES IN SCHEMA public TO clerk")
    connection.exec_driver_sql("SET LOCAL ROLE clerk")
    connection.exec_driver_sql(f"SET LOCAL benchwalk.operation = '{number}'")


@pytest.mark.parametrize("kind", WRITERS)
def test_an_export_holds_nothing_of_another_operation(e, foreign, engine, tmp_path, kind):
    text = written(engine, e.n, tmp_path / "out", WRITERS[kind])
    assert not [mark for mark in marks(engine, foreign) if mark in text]


@pytest.mark.parametrize("kind", WRITERS)
def test_with_the_filter_dropped_row_level_security_still_shows_nothing_foreign(
    postgres_template, tmp_path, kind
):
    engine = open_database(fresh_postgres(postgres_template))
    mine, other = Eventful(engine), Eventful(engine)
    marked(other)
    whole = written(engine, mine.n, tmp_path / "whole", WRITERS[kind])
    with filter_dropped():
        text = written(engine, mine.n, tmp_path / "dropped", WRITERS[kind])
    assert not [mark for mark in marks(engine, other) if mark in text]
    assert len(text) == len(whole.replace("/whole", "/dropped"))
    mine.s.close()
    other.s.close()
    engine.dispose()


@pytest.mark.parametrize("kind", sorted(WRITERS.keys() - {"full"}))
def test_without_that_wall_the_dropped_filter_would_show(sqlite_template, tmp_path, kind):
    """That the test above can fail: SQLite has one file an operator opens, and the filter only."""
    shutil.copy(sqlite_template, tmp_path / "a.sqlite")
    engine = open_database(f"sqlite:///{tmp_path / 'a.sqlite'}")
    mine, other = Eventful(engine), Eventful(engine)
    marked(other)
    with filter_dropped():
        text = written(engine, mine.n, tmp_path / "dropped", WRITERS[kind])
    assert [mark for mark in marks(engine, other) if mark in text]
    with filter_dropped(), pytest.raises(Refusal, match="ledger rows could be read"):
        written(engine, mine.n, tmp_path / "full", write_full)
    mine.s.close()
    other.s.close()
    engine.dispose()
