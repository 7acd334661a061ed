"""A new folder that is there whole, or not at all."""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from benchwalk.catalogue import Refusal

CHUNK = 1 << 20  # bytes of a file read at a time


@contextmanager
def new_folder(to: Path) -> Iterator[Path]:
    """A folder to write in, which becomes ``to`` at the end; after an error nothing is left of it.

    Raises
    ------
    Refusal
        where something is there already: what was exported once is never overwritten.
    """
    if to.exists() and (not to.is_dir() or any(to.iterdir())):
        raise Refusal("leave.refused.there", to=to)
    part = to.with_name(f"{to.name}.part-{os.getpid()}")
    part.mkdir(parents=True)
    try:
        yield part
        if to.exists():
            to.rmdir()
        part.replace(to)
    finally:
        shutil.rmtree(part, ignore_errors=True)


def sha256_of(path: Path) -> str:
    """sha256 of a file's bytes, in hexadecimal."""
    held = hashlib.sha256()
    with path.open("rb") as file:
        while chunk := file.read(CHUNK):
            held.update(chunk)
    return held.hexdigest()
