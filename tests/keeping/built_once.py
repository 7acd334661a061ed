"""An operation built once and copied for each test: building it takes longer than most tests."""

from __future__ import annotations

import copy
import shutil
from pathlib import Path
from typing import TypeVar

import sqlalchemy as sa

from benchwalk.records.base import Base
from benchwalk.records.database import file_of, open_database, session
from tests.conftest import fresh_postgres
from tests.records.small_operation import SmallOperation

Made = TypeVar("Made", bound=SmallOperation)


class BuiltOnce:
    """One kind of operation, as a file or as a database to be copied from."""

    def __init__(self, kind: type[Made], url: str, held: Path | str) -> None:
        engine = open_database(url)
        self.held, self.made = held, kind(engine)
        self.made.s.close()
        engine.dispose()

    def into_file(self, engine: sa.Engine) -> SmallOperation:
        shutil.copy(self.held, file_of(engine))
        return self._bound(engine)

    def into_postgres(self, engine: sa.Engine, server: str) -> SmallOperation:
        """In place of the empty database that the engine is for."""
        engine.dispose()
        fresh_postgres(server, str(self.held))
        return self._bound(engine)

    def _bound(self, engine: sa.Engine) -> SmallOperation:
        """The same objects, in a session of the copy."""
        copied = copy.copy(self.made)
        copied.s = session(engine, self.made.n, self.made.person)
        for name, held in vars(self.made).items():
            if isinstance(held, Base):
                setattr(copied, name, copied.s.merge(held, load=False))
        return copied


def second_template(server: str, name: str) -> tuple[str, str]:
    """(address, name) of a database like the empty one, to be filled and copied from."""
    admin = sa.create_engine(server, isolation_level="AUTOCOMMIT")
    with admin.connect() as c:
        c.exec_driver_sql(f"CREATE DATABASE {name} TEMPLATE template_records")
    admin.dispose()
    return sa.make_url(server).set(database=name).render_as_string(hide_password=False), name
