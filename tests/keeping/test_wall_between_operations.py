"""PostgreSQL: the policy binds the owner too, and a session takes a role that owns nothing."""

import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records import walls
from benchwalk.records.database import migrate, open_database, session
from benchwalk.records.ledger import Ledgered
from tests.conftest import fresh_postgres
from tests.records.small_operation import SmallOperation


@pytest.fixture
def two(postgres_template):
    engine = open_database(fresh_postgres(postgres_template))
    mine, other = SmallOperation(engine), SmallOperation(engine)
    yield engine, mine, other
    mine.s.close()
    other.s.close()
    engine.dispose()


def test_with_the_filter_of_the_query_dropped_a_session_still_sees_its_own_only(two):
    engine, mine, other = two
    with Ledgered(engine) as s:
        s.info.update(operation_id=mine.n)
        seen = s.execute(sa.text("SELECT DISTINCT operation_id FROM unit")).scalars().all()
        assert seen == [mine.n]
        assert s.execute(sa.text("SELECT count(*) FROM ledger")).scalar_one() == len(
            mine.s.scalars(sa.select(r.Ledger.seq)).all()
        )
        foreign = {"op": other.n, "id": other.unit.id}
        moved = sa.text("UPDATE unit SET name = 'x' WHERE operation_id = :op AND id = :id")
        assert s.execute(moved, foreign).rowcount == 0


def test_a_session_s_role_owns_nothing_and_can_drop_no_rule(two):
    engine, mine, _ = two
    with session(engine, mine.n) as s:
        assert s.execute(sa.text("SELECT current_user")).scalar_one() == walls.ROLE
        with pytest.raises(sa.exc.ProgrammingError, match="must be owner"):
            s.execute(sa.text("ALTER TABLE ledger DISABLE TRIGGER USER"))
        s.rollback()
        with pytest.raises(sa.exc.ProgrammingError, match="permission denied"):
            s.execute(sa.text("TRUNCATE tally"))


def test_the_role_is_put_down_with_the_transaction(two):
    engine, mine, _ = two
    with session(engine, mine.n) as s:
        s.execute(sa.text("SELECT 1"))
    with engine.connect() as c:
        assert c.exec_driver_sql("SELECT current_user").scalar_one() != walls.ROLE


def test_an_owner_without_superuser_is_bound_by_the_policies(owner):
    with owner.connect() as c:
        assert walls.unforced(c) == []
        with pytest.raises(sa.exc.DBAPIError, match=r"benchwalk\.operation"):
            c.exec_driver_sql("SELECT * FROM unit")


def test_an_owner_sees_the_one_operation_it_names_until_its_transaction_ends(owner):
    """No role but a superuser's passes the policy: the owner neither reads nor writes past it."""
    everything = owner.url.set(username="postgres", password=None)
    superuser = open_database(everything.render_as_string(hide_password=False))
    one, two = SmallOperation(superuser), SmallOperation(superuser)
    named = sa.text("SELECT DISTINCT operation_id FROM ledger")
    with owner.connect() as c:
        for o in (one, two):
            walls.see(c, o.n)
            assert c.execute(named).scalars().all() == [o.n]
        moved = sa.text("UPDATE person SET name = 'x' WHERE operation_id = :n")
        assert c.execute(moved, {"n": one.n}).rowcount == 0
        c.rollback()
        with pytest.raises(sa.exc.DBAPIError, match=r"benchwalk\.operation|smallint"):
            c.execute(named)
    one.s.close()
    two.s.close()
    superuser.dispose()


def test_a_table_of_a_later_migration_gets_its_wall(two):
    engine, *_ = two
    with engine.begin() as c:
        c.exec_driver_sql("CREATE TABLE later (operation_id smallint, n int)")
        assert walls.unforced(c) == ["later"]
        walls.build(c)
        assert walls.unforced(c) == []
        c.exec_driver_sql("INSERT INTO later VALUES (1, 1), (2, 2)")
        walls.see(c, 2)
        c.exec_driver_sql(f"SET LOCAL ROLE {walls.ROLE}")
        assert c.exec_driver_sql("SELECT n FROM later").scalars().all() == [2]
        c.exec_driver_sql("RESET ROLE")
        c.exec_driver_sql("DROP TABLE later")


def test_migrating_again_changes_nothing_of_it(two):
    engine, mine, _ = two
    migrate(engine)
    with session(engine, mine.n) as s:
        assert s.execute(sa.text("SELECT current_user")).scalar_one() == walls.ROLE
