"""The same counts in 200 files of other kinds and shapes are the same records.

Metamorphic: no expected values are needed, each file must read as the plain long sheet does.
"""

import datetime as dt
import io
import random
from functools import cache

import openpyxl
import pytest

from benchwalk.records.sheets.reading import read_rows
from benchwalk.records.sheets.table import table_of
from tests.in_turn import each_of
from tests.records.sheets.test_same_counts_another_shape import (
    COUNTED,
    SYNONYMS,
    WRITTEN,
    long_rows,
    plain,
    told,
    walks,
    wide_rows,
    written,
)

pytestmark = pytest.mark.slow
DELIMITED = ("utf-8", "utf-8-sig", "cp1252", "utf-16")
FILES = range(200)


def written_anew(seed):
    """One file: which counts, and a shape, kind and writing drawn from the seed."""
    rng = random.Random(seed)
    facts, shape = walks(seed % 12), rng.choice(["long", "wide", "unit sheets", "weeks across"])
    if shape == "unit sheets":
        return unit_sheets(facts, rng)
    if shape == "weeks across":
        return weeks_across(facts, rng)
    rows = list(long_rows(facts) if shape == "long" else wide_rows(facts))
    rows = with_temperature(rows, rng.choice([".", ","]))
    if rng.random() < 0.4:
        return workbook(rows, rng)
    return written(
        rows,
        language=rng.randrange(4),
        dates=rng.choice(list(WRITTEN)),
        shuffled=rng.choice([None, seed]),
        delimiter=rng.choice(",;\t|"),
        codec=rng.choice(DELIMITED),
        eol=rng.choice(["\n", "\r\n"]),
    )


def with_temperature(rows, decimal):
    """A measured column, which shows the decimal mark of the file."""
    return [r | {"Temp": f"21{decimal}{n % 10}"} for n, r in enumerate(rows)]


def cell_of(text, rng):
    """A cell as a spreadsheet keeps it: a whole number as a number, more often than not."""
    return int(text) if text.isdigit() and rng.random() < 0.8 else text or None


def day_of(iso, rng):
    """A day as a date cell, a moment, a number of days, or text."""
    day = dt.date.fromisoformat(iso)
    moment = dt.datetime.combine(day, dt.time())
    return rng.choice([day, moment, (day - dt.date(1899, 12, 30)).days, iso])


def packed(book):
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def workbook(rows, rng):
    """The table on a sheet of a workbook, below a title or not, in any order of columns."""
    language, headings = rng.randrange(4), list(rows[0])
    rng.shuffle(headings)
    book = openpyxl.Workbook()
    sheet = book.active
    for _ in range(rng.randrange(3)):
        sheet.append(["What we found in March"])
    sheet.append([SYNONYMS.get(h, [h] * 4)[language] for h in headings])
    for row in rows:
        cells = {h: cell_of(row[h], rng) for h in headings}
        cells["Date"] = day_of(row["Date"], rng)
        sheet.append([cells[h] for h in headings])
    return packed(book)


def unit_sheets(facts, rng):
    """A sheet for each unit, days across, what holds for all of it said above."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for unit in dict.fromkeys(w["Unit"] for w in facts):
        mine = [w for w in facts if w["Unit"] == unit]
        first = mine[0]
        sheet = book.create_sheet(unit)
        sheet.append([f"{unit}   {first['Crop']}"])
        sheet.append([f"House: {first['House']}", f"Scout: {first['Scout']}"])
        sheet.append(["Pest / stage", *(day_of(w["Date"], rng) for w in mine), "Season"])
        sheet.append(["Plants inspected", *(cell_of(w["Plants"], rng) for w in mine)])
        for n, (heading, _, _) in enumerate(COUNTED):
            sheet.append([heading, *(cell_of(w["counts"][n], rng) for w in mine), 99])
    return packed(book)


def weeks_across(facts, rng):
    """One text table: a row for each unit, pest and stage, a column for each day."""
    delimiter = rng.choice(",;\t")
    days = list(dict.fromkeys(w["Date"] for w in facts))
    lines = [["House", "Bench", "Crop", "Scout", "Pest", "Stage", *days]]
    for unit in dict.fromkeys(w["Unit"] for w in facts):
        mine = [w for w in facts if w["Unit"] == unit]
        place = [mine[0]["House"], unit, mine[0]["Crop"], mine[0]["Scout"]]
        lines.append([*place, "Plants inspected", "", *(w["Plants"] for w in mine)])
        for n, (_, pest, stage) in enumerate(COUNTED):
            lines.append([*place, pest, stage, *(w["counts"][n] for w in mine)])
    text = "\n".join(delimiter.join(line) for line in lines) + "\n"
    return text.encode(rng.choice(["utf-8", "utf-8-sig"]))


file_of = cache(written_anew)


@each_of("seed", FILES)
def test_another_file_of_the_same_walks_says_the_same(seed):
    assert told(file_of(seed)) == plain(seed % 12)


def test_the_files_are_of_every_kind_and_shape():
    # a generator that only ever wrote one kind would prove little
    contents = [file_of(seed) for seed in FILES[::4]]
    books = [c for c in contents if c.startswith(b"PK")]
    assert 15 < len(books) < 35
    assert len({bytes(c[:60]) for c in contents}) > 15
    tables = [table_of(c, "a.csv") for c in contents]
    assert {len(t.pages) for c, t in zip(contents, tables, strict=True) if c in books} == {1, 2}
    turned = [read_rows(t).tables[0][0].turned for t in tables]
    assert 15 < sum(turned) < 35
