"""What touches records is tested on SQLite and on PostgreSQL, the same tests on each."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
TOUCH_RECORDS = ["tests/records", "tests/keeping", "tests/week", "tests/test_cli.py"]


@pytest.mark.slow
def test_every_test_of_records_runs_on_both_databases():
    command = [sys.executable, "-m", "pytest", "--collect-only", "-q", "-p", "no:randomly"]
    ran = subprocess.run([*command, *TOUCH_RECORDS], cwd=ROOT, capture_output=True, text=True)
    ids = re.findall(r"^tests/\S.*::.*$", ran.stdout, re.MULTILINE)
    on = {
        name: {re.sub(rf"\b{name}\b", "-", i) for i in ids if re.search(rf"\[(.*-)?{name}\b", i)}
        for name in ("sqlite", "postgres")
    }
    assert len(on["sqlite"]) > 150
    assert on["sqlite"] == on["postgres"]
