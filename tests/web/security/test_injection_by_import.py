"""Injection through an import: each column of a sheet of counts and of each kind of list.

Which columns there are is read from the words that the reader knows. What is looked at is what an
import says: on the terminal, and in the file of rows that were not taken (a spreadsheet opens it).
What it writes into the records is attacked there: `a_planted_nursery`.
"""

from __future__ import annotations

import csv
from importlib.resources import files

import pytest
from typer.testing import CliRunner

from benchwalk.cli import app
from tests.web.security.a_planted_nursery import BODY, HEADS
from tests.web.security.markup import MARK, TURNED
from tests.web.security.test_injection_into_files import runs

COUNTS = {"date": "2026-03-02", "house": "H", "unit": "B1", "plant": "1", "pest": "thrips"}
COUNTS |= {"stage": "adult", "count": "2", "remarks": "none"}
LISTS = {
    "plantings": {"unit": "B1", "crop": "pansy", "planted_on": "2026-01-05", "phase": "rooting"},
    "stations": {"unit": "B1", "code": "S1", "kind": "yellow card", "opened_on": "2026-01-05"},
    "treatments": {"unit": "B1", "date": "2026-03-02", "material": "soap", "target": "thrips"},
    "climate": {"stamp": "2026-03-02 10:00", "sensor": "S1", "temp": "20", "rh": "60"},
}


def words(table: str) -> list[dict[str, str]]:
    text = files("benchwalk.records.sheets") / "words" / f"{table}.csv"
    return list(csv.DictReader(text.read_text("utf-8").splitlines()))


def headings() -> dict[str, dict[str, str]]:
    """A heading for each column that is known, by the kind of sheet."""
    known: dict[str, dict[str, str]] = {"counts": {}}
    for row in words("headings"):
        known["counts"].setdefault(row["meaning"], row["word"])
    for row in words("list_headings"):
        known.setdefault(row["kind"], {}).setdefault(row["meaning"], row["word"])
    return known


# a file with a control character in it is refused whole, and no workbook can hold one
ATTACKS = [(head + BODY).replace("\x1b", "") for head in HEADS]
PLACES = {"house": "house", "unit": "unit"}  # of a list, by the words of a sheet of counts
# a column of counts changes how others are read, so it has a sheet of its own; lists have all
SHEETS = [("counts", (meaning,)) for meaning in headings()["counts"]]
SHEETS += [
    (kind, tuple(meaning for meaning in headings()[kind] if meaning != "ignored")) for kind in LISTS
]


def test_every_kind_of_list_that_is_known_is_attacked():
    assert headings().keys() - {"counts", "kind"} == LISTS.keys()


@pytest.fixture(scope="module")
def records(tmp_path_factory):
    folder = tmp_path_factory.mktemp("imports")
    CliRunner().invoke(app, ["init", "A", "--zone", "UTC", "--data", str(folder / "data")])
    return folder


def a_sheet(folder, kind, meanings):
    """A sheet with a row for each attack on each column; the others hold what they mostly do."""
    known = PLACES | headings()[kind]
    row = COUNTS if kind == "counts" else LISTS[kind]
    columns = list(dict.fromkeys([*row, *meanings]))
    path = folder / f"{kind}-{meanings[0]}.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow([known[c] for c in columns])
        for meaning in meanings:
            for attack in ATTACKS:
                held = row | {meaning: attack}
                writer.writerow([held.get(c, "") for c in columns])
    return path


@pytest.mark.parametrize(
    ("kind", "meanings"), SHEETS, ids=lambda of: "" if len(of) > 9 else str(of)
)
def test_injection_by_import_a_column_moves_no_cursor_and_leaves_no_formula(
    records, kind, meanings
):
    sheet = a_sheet(records, kind, meanings)
    left = records / f"{sheet.stem}-left.csv"
    asked = ["import", str(sheet), "--as", kind, "--yes", "--rejects", str(left)]
    said = CliRunner().invoke(app, [*asked, "--data", str(records / "data")], color=True)
    # a log whose columns say several things waits for an answer, and shows what it read
    assert said.exit_code == (3 if kind == "climate" else 0), said.output
    assert MARK in said.output or left.exists() or kind == "counts"
    assert TURNED.findall(said.output) == []
    if left.exists():
        rows = list(csv.reader(left.read_text("utf-8-sig").splitlines(keepends=True)))
        assert [cell for row in rows for cell in row if runs(cell)] == []
        assert any(MARK in cell for row in rows for cell in row)
