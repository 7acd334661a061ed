"""Two locks beside a SQLite file, which every program on this machine sees.

* The write lock (``NAME.write``): one writer at a time. Taken before a transaction writes, given
  back after its commit; checkpoints happen only while it is held.
* The open lock (``NAME.open``): every program that has the records open holds a share of it. A
  restore wants all of it, and so is refused while anybody reads or writes.

The files stay when the locks are given back: a lock file that is removed while another program
waits for it is no lock. A program that dies gives its locks back, as the system closes its files.
"""

from __future__ import annotations

import os
import random
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from benchwalk.catalogue import Refusal

PATIENCE_S = 30.0  # own choice: longer than any import of a season took; a person can end it
SHORTEST_PAUSE_S, LONGEST_PAUSE_S = 0.0003, 0.01


class LockedError(Refusal):
    """Another program holds the records."""


if sys.platform == "win32":
    import msvcrt

    SHARES = 512  # programs that may have the records open: one byte of the file each

    def _try(fd: int, *, shared: bool) -> bool:
        if not shared:
            return _try_bytes(fd, 0, SHARES)
        start = random.randrange(SHARES)
        return any(_try_bytes(fd, (start + n) % SHARES, 1) for n in range(SHARES))

    def _try_bytes(fd: int, first: int, n: int) -> bool:
        os.lseek(fd, first, os.SEEK_SET)
        try:
            msvcrt.locking(fd, msvcrt.LK_NBLCK, n)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _try(fd: int, *, shared: bool) -> bool:
        how = fcntl.LOCK_SH if shared else fcntl.LOCK_EX
        try:
            fcntl.flock(fd, how | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True


def _pause(waited_s: float) -> float:
    """Seconds until the next look: whoever waited longest looks most often, and so comes next.

    The other way round, those who just came would take the lock from those who wait.
    """
    return max(SHORTEST_PAUSE_S, LONGEST_PAUSE_S / (1 + waited_s / LONGEST_PAUSE_S))


class FileLock:
    """A lock held through an open file; two of them exclude each other in one program too.

    Parameters
    ----------
    path : the lock file; made when it is not there.
    shared : a share, beside other shares.
    """

    def __init__(self, path: Path, *, shared: bool = False) -> None:
        self.path, self.shared = path, shared
        self._fd: int | None = None

    @property
    def held(self) -> bool:
        return self._fd is not None

    def try_take(self) -> bool:
        """Take it if it is free; whether it is held now."""
        if self._fd is not None:
            return True
        fd = os.open(self.path, os.O_RDWR | os.O_CREAT, 0o600)
        if not _try(fd, shared=self.shared):
            os.close(fd)
            return False
        self._fd = fd
        return True

    def take(self, patience_s: float = PATIENCE_S) -> None:
        """Wait for it.

        Raises
        ------
        LockedError
            if it is not free after ``patience_s``. [s]
        """
        began = time.monotonic()
        while not self.try_take():
            waited = time.monotonic() - began
            if waited >= patience_s:
                raise LockedError("keep.locked", path=self.path, seconds=f"{patience_s:g}")
            # writers that wake at one moment would meet again and again
            time.sleep(_pause(waited) * random.uniform(0.5, 1.5))

    def give_back(self) -> None:
        """Closing the file gives the lock back; nothing where it is not held."""
        if self._fd is not None:
            os.close(self._fd)
            self._fd = None


def write_lock(database: Path) -> FileLock:
    """The lock of whoever writes to a SQLite file."""
    return FileLock(database.with_name(f"{database.name}.write"))


def open_lock(database: Path, *, shared: bool = True) -> FileLock:
    """The lock of whoever has a SQLite file open: a share, or all of it."""
    return FileLock(database.with_name(f"{database.name}.open"), shared=shared)


@contextmanager
def alone(database: Path) -> Iterator[None]:
    """Nobody else has the records open, and nobody can open them, until the end.

    Raises
    ------
    LockedError
        if a server or another command has them open.
    """
    writes, opens = write_lock(database), open_lock(database, shared=False)
    try:
        if not (opens.try_take() and writes.try_take()):
            raise LockedError("keep.in_use", path=database)
        yield
    finally:
        writes.give_back()
        opens.give_back()
