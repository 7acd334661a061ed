"""Files that were made elsewhere are what their rows say, and the check of it finds what is not."""

from __future__ import annotations

import csv
import shutil
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent.parent
sys.path.insert(0, str(ROOT / "tools"))

import vendor  # noqa: E402 - the tool is no part of the package


@pytest.fixture
def copied(tmp_path) -> Path:
    return Path(shutil.copytree(vendor.FOLDER, tmp_path / "vendor"))


def changed(folder: Path, **values: str) -> None:
    """The table with other values in its first row."""
    rows = [row._asdict() for row in vendor.rows(folder)]
    rows[0] |= values
    with (folder / vendor.TABLE).open("w", encoding="utf-8", newline="") as table:
        writer = csv.DictWriter(table, vendor.Vendored._fields)
        writer.writeheader()
        writer.writerows(rows)


def test_every_file_has_its_row_its_hash_and_the_text_of_its_licence():
    assert vendor.faults(vendor.FOLDER) == []
    assert vendor.rows(vendor.FOLDER)


def test_one_changed_byte_is_found(copied):
    path = copied / vendor.rows(copied)[0].file
    path.write_bytes(path.read_bytes() + b" ")
    assert any("its row says sha256" in fault for fault in vendor.faults(copied))


def test_a_file_that_is_gone_is_found(copied):
    (copied / vendor.rows(copied)[0].file).unlink()
    assert any("no file" in fault for fault in vendor.faults(copied))


def test_a_file_without_a_row_is_found(copied):
    (copied / "stray.js").write_text("1", encoding="utf-8")
    assert vendor.faults(copied) == ["stray.js: no row in vendored.csv says where it is from"]


def test_a_licence_that_does_not_let_a_file_be_copied_is_found(copied):
    changed(copied, licence="UNLICENSED")
    assert any("licence UNLICENSED" in fault for fault in vendor.faults(copied))


def test_a_licence_without_its_text_is_found(copied):
    (copied / vendor.rows(copied)[0].licence_file).unlink()
    assert any("the text of its licence" in fault for fault in vendor.faults(copied))


def test_no_vendored_file_asks_another_host_for_anything():
    for row in vendor.rows(vendor.FOLDER):
        text = (vendor.FOLDER / row.file).read_text("utf-8")
        assert "http://" not in text
        assert "https://" not in text
