"""PostgreSQL has a second wall between operations; SQLite has one file an operator opens."""

import sqlalchemy as sa

from benchwalk.records.database import open_database
from tests.conftest import fresh_postgres
from tests.records.small_operation import SmallOperation


def test_a_role_that_owns_nothing_sees_one_operation_only(postgres_template):
    engine = open_database(fresh_postgres(postgres_template))
    mine, other = SmallOperation(engine), SmallOperation(engine)
    with engine.connect() as c:
        transaction = c.begin()
        c.exec_driver_sql("CREATE ROLE clerk")
        c.exec_driver_sql("GRANT SELECT ON ALL TABLES IN SCHEMA public TO clerk")
        c.exec_driver_sql("SET LOCAL ROLE clerk")
        c.exec_driver_sql(f"SET LOCAL benchwalk.operation = '{mine.n}'")
        seen = c.execute(sa.text("SELECT DISTINCT operation_id FROM unit")).scalars()
        assert set(seen) == {mine.n}
        transaction.rollback()
    mine.s.close()
    other.s.close()
    engine.dispose()
