"""Network and FUSE file systems are refused, unless somebody who knows says otherwise."""

import errno
import os
from pathlib import Path

import pytest
from typer.testing import CliRunner

from benchwalk.cli import app
from benchwalk.records import disk
from benchwalk.records.database import open_database
from benchwalk.records.disk import ANY_FILE_SYSTEM, FileSystemRefusedError, file_system, kind_of

# statfs(2), Linux man-pages 6.03, table of f_type
MAN_PAGE = {0x6969: "NFS", 0xFF534D42: "CIFS", 0xFE534D42: "SMB2", 0x65735546: "FUSE"}
MAN_PAGE |= {0x01021997: "9P", 0x00C36400: "Ceph", 0x5346414F: "AFS", 0x73757245: "Coda"}


@pytest.mark.parametrize(("magic", "name"), MAN_PAGE.items(), ids=MAN_PAGE.values())
def test_a_file_system_of_another_machine_or_of_a_program_is_refused_statfs_2(
    magic, name, file, monkeypatch
):
    monkeypatch.delenv(ANY_FILE_SYSTEM, raising=False)
    monkeypatch.setattr(disk, "_magic", lambda path: magic)
    engine = open_database(f"sqlite:///{file}")
    with pytest.raises(FileSystemRefusedError, match=f"is on {name}, a network or FUSE"):
        engine.connect()
    monkeypatch.setenv(ANY_FILE_SYSTEM, "1")
    engine.connect().close()
    engine.dispose()


@pytest.mark.parametrize(
    ("magic", "name"), [(0xEF53, "ext"), (0x01021994, "tmpfs"), (0x9123683E, "Btrfs")]
)
def test_a_file_system_of_this_machine_is_taken_statfs_2(magic, name):
    assert kind_of(magic) == (name, True)


def test_one_that_is_not_in_the_tables_is_named_by_its_number_and_taken():
    assert kind_of(0x1234) == ("0x1234", True)


def test_where_the_system_does_not_say_nothing_is_claimed():
    assert kind_of(None) == (None, None)


def test_the_kernel_s_own_words_agree():
    """/proc/self/mountinfo names what statfs numbers: two ways to ask one kernel."""
    assert file_system(Path("/proc")).name == "0x9fa0"  # PROC_SUPER_MAGIC of the same table
    mounts = [line.split() for line in Path("/proc/self/mountinfo").read_text().splitlines()]
    tmpfs = [m[4] for m in mounts if m[m.index("-") + 1] == "tmpfs" and os.access(m[4], os.R_OK)]
    assert all(file_system(Path(m)) == ("tmpfs", True) for m in tmpfs)


def test_a_folder_that_is_not_there_yet_is_judged_by_the_one_it_will_be_in(tmp_path):
    assert file_system(tmp_path / "a" / "b") == file_system(tmp_path)


def test_the_flag_stands_before_the_command(tmp_path, monkeypatch):
    monkeypatch.setenv(ANY_FILE_SYSTEM, "0")
    monkeypatch.setattr(disk, "_magic", lambda path: 0x6969)
    init = ["init", "North", "--data", str(tmp_path)]
    refused = CliRunner().invoke(app, init)
    assert refused.exit_code == 1
    assert "NFS" in refused.stderr
    assert "--any-file-system" in refused.stderr
    assert CliRunner().invoke(app, ["--any-file-system", *init]).exit_code == 0


def test_a_path_the_system_will_not_look_at_is_an_error_and_not_a_guess(monkeypatch):
    class Libc:
        def statfs(self, path, answer):
            return -1

    monkeypatch.setattr(disk.ctypes, "CDLL", lambda *_, **__: Libc())
    monkeypatch.setattr(disk.ctypes, "get_errno", lambda: errno.EACCES)
    with pytest.raises(PermissionError, match="Permission denied"):
        file_system(Path("/"))
