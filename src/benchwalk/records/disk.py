"""What the records stand on: the kind of file system, the room left, and a disk that fails.

SQLite's journal needs shared memory and locks that every program on the machine sees at once; a
network or FUSE file system promises neither ("WAL does not work over a network filesystem",
sqlite.org/wal.html, section 1), so the records are refused there.
"""

from __future__ import annotations

import ctypes
import os
import shutil
import sqlite3
import sys
from pathlib import Path
from typing import NamedTuple

from benchwalk.catalogue import Refusal

ANY_FILE_SYSTEM = "BENCHWALK_ANY_FILE_SYSTEM"
# f_type of statfs(2), Linux man-pages 6.03; those of linux/magic.h that are shared or in user space
NOT_LOCAL = {
    0x00006969: "NFS",
    0xFF534D42: "CIFS",
    0xFE534D42: "SMB2",
    0x0000517B: "SMB",
    0x01021997: "9P",
    0x00C36400: "Ceph",
    0x5346414F: "AFS",
    0x6B414653: "AFS",
    0x73757245: "Coda",
    0x0000564C: "NCP",
    0x7461636F: "OCFS2",
    0x01161970: "GFS2",
    0x0BD00BD0: "Lustre",
    0x65735546: "FUSE",
}
LOCAL = {0xEF53: "ext", 0x58465342: "XFS", 0x9123683E: "Btrfs", 0x01021994: "tmpfs"}
LOCAL |= {0x2FC12FC1: "ZFS", 0xF2F52010: "F2FS", 0x794C7630: "overlay", 0x4D44: "FAT"}
FAILED = {sqlite3.SQLITE_IOERR, sqlite3.SQLITE_FULL, sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}
PRIMARY = 0xFF  # of an extended result code (sqlite.org/rescode.html)


class FileSystem(NamedTuple):
    """Kind of the file system a path is on; None where the system does not say."""

    name: str | None
    local: bool | None


class FileSystemRefusedError(Refusal):
    """The records would lie where their journal is not safe."""


class DiskFailedError(Refusal):
    """Writing failed below the database: nothing more is acknowledged by this program."""


def file_system(path: Path) -> FileSystem:
    """The file system of a path, or of its nearest folder that is there."""
    there = path
    while not there.exists():
        there = there.parent
    return kind_of(_magic(there))


def kind_of(magic: int | None) -> FileSystem:
    """What ``f_type`` of statfs stands for."""
    if magic is None:
        return FileSystem(None, None)
    if magic in NOT_LOCAL:
        return FileSystem(NOT_LOCAL[magic], False)
    return FileSystem(LOCAL.get(magic, hex(magic)), True)


def _magic(path: Path) -> int | None:
    """``f_type`` of statfs(2): the first word of its answer. Linux only."""
    if not sys.platform.startswith("linux"):
        return None
    libc = ctypes.CDLL(None, use_errno=True)
    answer = ctypes.create_string_buffer(512)  # struct statfs is 120 bytes on 64 bits
    if libc.statfs(os.fsencode(path), answer) != 0:
        number = ctypes.get_errno()
        raise OSError(number, os.strerror(number), str(path))
    return ctypes.c_long.from_buffer(answer).value & 0xFFFFFFFF


def refuse_unsafe(path: Path) -> None:
    """Refuse a network or FUSE file system, unless somebody who knows said otherwise.

    Raises
    ------
    FileSystemRefusedError
        naming the file system, and the way to say otherwise.
    """
    held = file_system(path)
    if held.local is False and os.environ.get(ANY_FILE_SYSTEM) != "1":
        raise FileSystemRefusedError(
            "keep.file_system", path=path, kind=held.name, variable=ANY_FILE_SYSTEM
        )


def room_bytes(path: Path) -> int:
    """Bytes free where a path is. [bytes]"""
    there = path
    while not there.exists():
        there = there.parent
    return shutil.disk_usage(there).free


def failed(error: BaseException | None) -> bool:
    """Whether SQLite met a full or failing disk, or a damaged file; not a rule, not a lock."""
    code = getattr(error, "sqlite_errorcode", None)
    return code is not None and code & PRIMARY in FAILED


def sync_folder(folder: Path) -> None:
    """Names that were made, changed or removed in a folder survive a power cut."""
    if sys.platform == "win32":
        return  # a folder cannot be synced there; the file system keeps names in its own journal
    fd = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(fd)
    finally:
        os.close(fd)


def sync_file(path: Path) -> None:
    """What was written to a file survives a power cut."""
    fd = os.open(path, os.O_RDWR)
    try:
        os.fsync(fd)
    finally:
        os.close(fd)
