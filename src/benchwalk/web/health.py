"""Whether the server lives, and whether it is ready: it writes and reads to find out.

``/health/live`` says that the process answers. ``/health/ready`` does what a walk would need: it
writes a word and reads it again, compares the schema, looks at the room on the disk, and says when
a copy was last proved by restoring it. A copy that is missing or old is said and fails nothing:
the records can be used, and somebody should know.
"""

from __future__ import annotations

import datetime as dt
import shutil
import threading
import time
from pathlib import Path
from typing import Any

from fastapi import APIRouter
from sqlalchemy import select
from sqlalchemy.exc import SQLAlchemyError
from starlette.responses import JSONResponse, Response

from benchwalk.catalogue import Refusal
from benchwalk.records import Canary, Walk
from benchwalk.records.database import data_directory, schema_of, session, writing
from benchwalk.web.base import AVisitor, Served

router = APIRouter()
LOOKED_EVERY_S = 10.0  # anybody may ask, so the disk is not made to work for each who does
LEAST_FREE_BYTES = 200 * 2**20  # own choice: some weeks of walks and a migration's copy
COPY_OLD_AFTER = dt.timedelta(days=2)  # own choice: a daily copy was missed


class Ready:
    """The newest answer for one server, looked for anew when it is ten seconds old."""

    def __init__(self, served: Served) -> None:
        self.served = served
        self._lock = threading.Lock()
        self._looked: float | None = None
        self._found: dict[str, Any] = {}

    def now(self) -> dict[str, Any]:
        """What was found, with ``ready`` true where everything needed is there."""
        with self._lock:
            if self._looked is None or time.monotonic() - self._looked > LOOKED_EVERY_S:
                self._found = _look(self.served)
                self._looked = time.monotonic()
            return self._found


def _look(served: Served) -> dict[str, Any]:
    at, newest = _schema(served)
    found: dict[str, Any] = {
        "records_take_a_word": _canary(served),
        "schema": at,
        "schema_expected": newest,
        "disk_free_bytes": shutil.disk_usage(_folder(served)).free,
    }
    found["ready"] = (
        found["records_take_a_word"]
        and at == newest
        and found["disk_free_bytes"] >= LEAST_FREE_BYTES
    )
    return found | _copy(served)


def _schema(served: Served) -> tuple[str | None, str | None]:
    try:
        return schema_of(served.engine)
    except SQLAlchemyError:  # the database does not answer: said as not ready, with no schema
        return None, None


def _canary(served: Served) -> bool:
    """Whether a word that was written can be read again, by another session."""
    said = dt.datetime.now(dt.UTC)
    try:
        with writing(served.engine, served.operation) as s:
            held = s.scalars(select(Canary)).first()
            if held is None:
                s.add(Canary(operation_id=served.operation, said_at=said))
            else:
                held.said_at = said
        with session(served.engine, served.operation) as s:
            return s.scalars(select(Canary.said_at)).one() == said
    except (SQLAlchemyError, Refusal, OSError):  # full, read-only, locked for long, or gone
        return False


def _folder(served: Served) -> Path:
    """Where the records lie: a file's folder, else that of this program's data."""
    named = served.engine.url.database
    file = served.engine.dialect.name == "sqlite" and named
    there = Path(named).parent if file and named else data_directory()
    while not there.exists():
        there = there.parent
    return there


def _copy(served: Served) -> dict[str, Any]:
    proven = served.last_proven()
    old = proven is None or dt.datetime.now(dt.UTC) - proven > COPY_OLD_AFTER
    return {"copy_proven_at": proven and proven.isoformat(), "copy_is_old": old}


@router.get("/health/live")
def live() -> Response:
    """The process answers; nothing more is said."""
    return JSONResponse({"live": True})


@router.get("/health/ready")
def ready(visitor: AVisitor) -> Response:
    """503 where the records could not be used now; never a name, a path or a count of pests."""
    found = visitor.request.app.state.ready.now()
    newest = select(Walk.walk_on).order_by(Walk.walk_on.desc()).limit(1)
    day = visitor.session.scalars(newest).first() if found["ready"] else None
    said = found | {"newest_walk_on": day and day.isoformat()}
    return JSONResponse(said, status_code=200 if found["ready"] else 503)
