"""The file a phone exports, taken by the way its messages take."""

from __future__ import annotations

import json
import uuid
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, select

from benchwalk.catalogue import Refusal
from benchwalk.records.database import session
from benchwalk.records.operations import Device, Operation
from benchwalk.records.sync.taking import Answer, take

MOST = 500
VERSIONS = (1,)


class FileRefusedError(Refusal):
    """The file is not one of a phone of this operation."""


def bring_file(engine: Engine, operation: int, path: Path) -> list[Answer]:
    """Take the items of an exported file; an answer for each.

    Raises
    ------
    FileRefusedError
        if it is no such file, of a version that is not read, or of another operation.
    """
    return bring(engine, operation, path.read_bytes(), str(path))


def bring(engine: Engine, operation: int, content: bytes, path: str) -> list[Answer]:
    """Take the items of what an exported file holds; ``path`` is what a refusal calls it.

    Raises
    ------
    FileRefusedError
        if it is no such file, of a version that is not read, or of another operation.
    """
    held = _parsed(content, path)
    device = _device(engine, operation, path, held)
    items = held["items"]
    answers: list[Answer] = []
    for start in range(0, len(items), MOST):
        answers += take(engine, operation, device, items[start : start + MOST])
    return answers


def _parsed(content: bytes, path: str) -> dict[str, Any]:
    try:
        held = json.loads(content.decode("utf-8"))
    except (ValueError, RecursionError) as no:
        raise FileRefusedError("sync.no_file", path=path) from no
    if not isinstance(held, dict) or held.get("file") != "benchwalk-phone":
        raise FileRefusedError("sync.no_file", path=path)
    if held.get("version") not in VERSIONS or not isinstance(held.get("items"), list):
        raise FileRefusedError("sync.file_version", path=path, given=held.get("version"))
    return held


def _device(engine: Engine, operation: int, path: str, held: dict[str, Any]) -> uuid.UUID | None:
    """The phone the file is of; None where this operation has no such phone."""
    with session(engine, operation) as s:
        uid = s.scalars(select(Operation.uid).where(Operation.id == operation)).one()
        if held.get("operation") != str(uid):
            raise FileRefusedError("sync.file_of_another", path=path)
        known = {str(device): device for device in s.scalars(select(Device.id))}
    return known.get(str(held.get("device")))
