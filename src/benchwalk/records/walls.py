"""PostgreSQL's wall between operations: row-level security for everybody, and a plain role.

The owner of a table passes its policies by unless they are forced, and a superuser always does.
So a session of one operation puts the owner's rights down for each transaction: it takes a role
that owns nothing and can neither change a table nor drop a rule.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session, SessionTransaction

from benchwalk.records.ledger import Ledgered

ROLE = "benchwalk_plain"
SETTING = "benchwalk.operation"
MEMBER = f"SELECT pg_has_role(oid, 'MEMBER') FROM pg_roles WHERE rolname = '{ROLE}'"
UNFORCED = """
    SELECT c.relname FROM pg_class c
    JOIN pg_attribute a ON a.attrelid = c.oid AND a.attname = 'operation_id' AND NOT a.attisdropped
    WHERE c.relnamespace = current_schema()::regnamespace AND c.relkind = 'r'
    AND NOT (c.relrowsecurity AND c.relforcerowsecurity
             AND EXISTS (SELECT 1 FROM pg_policy p WHERE p.polrelid = c.oid))
    ORDER BY 1"""
MAKE_ROLE = f"""DO $$ BEGIN
    CREATE ROLE {ROLE} NOLOGIN;
    EXCEPTION WHEN duplicate_object OR unique_violation THEN NULL; END $$"""
JOIN_ROLE = f"""DO $$ BEGIN
    IF NOT pg_has_role('{ROLE}', 'MEMBER') THEN GRANT {ROLE} TO CURRENT_USER; END IF; END $$"""


def unforced(connection: sa.Connection) -> list[str]:
    """Tables of an operation whose policy does not bind their owner."""
    return list(connection.exec_driver_sql(UNFORCED).scalars())


def build(connection: sa.Connection) -> None:
    """Force the policy on every table of an operation, also later ones; make the plain role."""
    for table in unforced(connection):
        _force(connection, table)
    connection.exec_driver_sql(MAKE_ROLE)
    connection.exec_driver_sql(JOIN_ROLE)
    schema = connection.exec_driver_sql("SELECT quote_ident(current_schema())").scalar_one()
    connection.exec_driver_sql(f"GRANT USAGE ON SCHEMA {schema} TO {ROLE}")
    rights = "SELECT, INSERT, UPDATE, DELETE"
    connection.exec_driver_sql(f"GRANT {rights} ON ALL TABLES IN SCHEMA {schema} TO {ROLE}")
    connection.exec_driver_sql(f"GRANT USAGE ON ALL SEQUENCES IN SCHEMA {schema} TO {ROLE}")


def _force(connection: sa.Connection, table: str) -> None:
    named = connection.dialect.identifier_preparer.quote(table)
    connection.exec_driver_sql(f"ALTER TABLE {named} ENABLE ROW LEVEL SECURITY")
    connection.exec_driver_sql(f"ALTER TABLE {named} FORCE ROW LEVEL SECURITY")
    policies = "SELECT count(*) FROM pg_policy WHERE polrelid = CAST(:t AS regclass)"
    if connection.execute(sa.text(policies), {"t": table}).scalar_one() == 0:
        connection.exec_driver_sql(
            f"CREATE POLICY own ON {named}"
            f" USING (operation_id = current_setting('{SETTING}')::smallint)"
        )


def may_be_plain(connection: Any, record: Any) -> None:
    """Note on a new connection whether the plain role is there for it to take."""
    with connection.cursor() as cursor:
        found = cursor.execute(MEMBER).fetchone()
    connection.rollback()
    record.info["plain"] = bool(found and found[0])


@sa.event.listens_for(Ledgered, "after_begin")
def _behind_the_wall(session: Session, _: SessionTransaction, connection: sa.Connection) -> None:
    if connection.dialect.name != "postgresql":
        return
    if not connection.info.get("plain"):
        # made or joined since this connection was opened
        connection.info["plain"] = bool(connection.exec_driver_sql(MEMBER).scalar())
    if connection.info["plain"]:
        connection.exec_driver_sql(f"SET LOCAL ROLE {ROLE}")
    see(connection, session.info["operation_id"])


def see(connection: sa.Connection, operation: int) -> None:
    """Bind the rest of the transaction to one operation."""
    named = {"name": SETTING, "n": str(operation)}
    connection.execute(sa.text("SELECT set_config(:name, :n, true)"), named)
