"""Alembic's entry: the connection is always handed in by `records.database.migrate`."""

from __future__ import annotations

from typing import Any, Literal

from alembic import context
from alembic.autogenerate.api import AutogenContext

from benchwalk.records.base import Base, Uid, Utc


def _render(kind: str, thing: Any, autogen: AutogenContext) -> str | Literal[False]:
    """Write our column types into a migration by name."""
    if kind == "type" and isinstance(thing, Uid | Utc):
        autogen.imports.add("from benchwalk.records.base import Uid, Utc")
        return f"{type(thing).__name__}()"
    return False


context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    render_item=_render,
    transaction_per_migration=False,
    transactional_ddl=True,
)
context.run_migrations()
