"""The same records give the same bytes, whatever the clock and the settings of the machine."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest

from benchwalk import demo
from benchwalk.report.files import write_report
from tests.patience import PATIENCE_S
from tests.report.a_report import a_report

ROOT = Path(__file__).parent.parent.parent
# a program of its own, whose clock in Python is moved; typst reads the machine's
PROGRAM = """
import sys, time
real, later = time.time, float(sys.argv[2])
time.time = lambda: real() + later
from pathlib import Path
from benchwalk.report.files import write_report
from tests.report.a_report import a_report
for size in ("a4", "letter"):
    for locale in ("en", "es"):
        write_report(a_report(), Path(sys.argv[1]), locale=locale, size=size)
"""
ELSEWHERE = {"TZ": "Asia/Tokyo", "PYTHONHASHSEED": "7", "LC_ALL": "C", "LANG": "C"}
HERE = {"TZ": "America/New_York", "PYTHONHASHSEED": "1", "LC_ALL": "C.UTF-8"}


def rendered(folder: Path, settings: dict[str, str], later: float) -> dict[str, str]:
    """Digests of all files that another process writes."""
    environment = os.environ | settings | {"PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-c", PROGRAM, str(folder), str(later)]
    subprocess.run(command, check=True, env=environment, cwd=ROOT, timeout=PATIENCE_S)
    return {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.iterdir())
    }


def test_another_zone_hash_seed_and_locale_give_the_same_bytes(tmp_path):
    first = rendered(tmp_path / "first", HERE, 0)
    time.sleep(1.1)  # the clock of a file has whole seconds, and Rust's cannot be moved from here
    second = rendered(tmp_path / "second", ELSEWHERE, 60)
    assert len(first) == 8  # a PDF a language and sheet, a page and a workbook a language
    assert first == second


@pytest.mark.slow
def test_two_databases_of_the_same_demo_give_the_same_bytes(data_of_the_demo, tmp_path):
    """Built apart: row ids of the shipped thresholds and the order of rows differ between them."""
    found = []
    for data in (data_of_the_demo(), tmp_path / "second"):
        with demo.ready(data) as (engine, operation):
            # the head of the ledger is not the same: it knows when each row was received
            week = replace(demo.week(engine, operation), head=None)
            made = write_report(week, data / "reports")
        found.append([hashlib.sha256(path.read_bytes()).hexdigest() for path in made])
    assert found[0] == found[1]


def test_no_file_holds_a_day_on_which_it_was_made(tmp_path):
    this_year = time.strftime("%Y").encode()
    for path in write_report(a_report(), tmp_path):
        if path.suffix == ".pdf":
            pdf = pypdf.PdfReader(path)
            text = str(pdf.trailer["/Info"].get_object()) + str(pdf.xmp_metadata and "")
            assert b"D:" + this_year not in path.read_bytes()
            assert "Date" not in text
        if path.suffix == ".html":
            assert time.strftime("%d.%m.%Y") not in path.read_text("utf-8")


def test_another_figure_gives_other_bytes(tmp_path):
    """Otherwise the tests above would hold for files that say nothing."""
    report = a_report()
    first = [path.read_bytes() for path in write_report(report, tmp_path)]
    object.__setattr__(report.flags[0], "reason", "another")
    second = [path.read_bytes() for path in write_report(report, tmp_path)]
    assert all(a != b for a, b in zip(first, second, strict=True))
