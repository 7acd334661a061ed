"""The same counts in another shape of file are the same records.

Metamorphic: no expected values are needed, each shape must read as the plain one does.
"""

import csv
import io
import random
from functools import cache
from itertools import product

import pytest

from benchwalk.records.sheets.reading import read_rows
from benchwalk.records.sheets.table import table_of
from tests.in_turn import each_of

# (heading of a wide column, pest and stage in a long row, taxon and stage they stand for)
COUNTED = [
    ("Thrips larvae", "Thrips", "larvae"),
    ("Thrips adults", "thrips", "ad"),
    ("WF nymphs", "white fly", "nymph"),
    ("GPA wingless", "Myzus persicae", "apt"),
]
SYNONYMS = {
    "Date": ["Date", "Walk date", "Fecha", "Datum"],
    "House": ["House", "Greenhouse", "Nave", "Gewächshaus"],
    "Unit": ["Unit", "Bench", "Banco", "Tisch"],
    "Plants": ["Plants inspected", "Plants", "Plantas revisadas", "Pflanzen kontrolliert"],
    "Crop": ["Crop", "Culture", "Cultivo", "Kultur"],
    "Scout": ["Scout", "Counted by", "Observador", "Kontrolleur"],
    "Pest": ["Pest", "Species", "Plaga", "Schädling"],
    "Stage": ["Stage", "Life stage", "Fase", "Stadium"],
    "Count": ["Count", "Number", "Conteo", "Anzahl"],
}
CELLS = ["0", "nil", "1", "7", "12", "50+", "tntc", "3/10", "", "n/a", "2-3", "~4"]
DATES = ["2025-03-03", "2025-03-10", "2025-03-17"]
# the same day in the two orders; 17 March settles which
WRITTEN = {
    "iso": lambda y, m, d: f"{y}-{m}-{d}",
    "month first": lambda y, m, d: f"{int(m)}/{int(d)}/{y}",
    "day first": lambda y, m, d: f"{int(d)}.{int(m)}.{y}",
}


def walks(seed):
    """What was found on three walks: the plain facts that every shape writes down."""
    rng = random.Random(seed)
    return [
        {
            "Date": date,
            "House": "Range Süd",
            "Unit": f"Bench {bench}",
            "Plants": "10",
            "Crop": "pepper",
            "Scout": "AM",
            "counts": [rng.choice(CELLS) for _ in COUNTED],
        }
        for date in DATES
        for bench in (1, 2)
    ]


def long_rows(facts):
    for walk in facts:
        for (_, pest, stage), count in zip(COUNTED, walk["counts"], strict=True):
            named = {k: v for k, v in walk.items() if k != "counts"}
            yield named | {"Pest": pest, "Stage": stage, "Count": count}


def wide_rows(facts):
    for walk in facts:
        named = {k: v for k, v in walk.items() if k != "counts"}
        headed = (heading for heading, _, _ in COUNTED)
        yield named | dict(zip(headed, walk["counts"], strict=True))


def written(
    rows, *, language=0, dates="iso", shuffled=None, delimiter=",", codec="utf-8", eol="\n"
):
    rows = list(rows)
    headings = list(rows[0])
    if shuffled is not None:
        random.Random(shuffled).shuffle(headings)
    shown = [SYNONYMS.get(h, [h] * 4)[language] for h in headings]
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=delimiter, lineterminator=eol)
    writer.writerow(shown)
    for row in rows:
        day = WRITTEN[dates](*row["Date"].split("-"))
        writer.writerow([day if h == "Date" else row[h] for h in headings])
    return out.getvalue().encode(codec)


def told(content):
    """What a file says, without saying where: records, cells not looked at, refusals."""
    reading = read_rows(table_of(content, "sheet.csv"))
    records = {
        (r.on, r.unit, r.taxon, r.stage, r.method, r.how, r.value, r.of, r.plants, r.crop, r.scout)
        for r in reading.records
    }
    absent = {(n.on, n.unit, n.taxon, n.stage, n.raw) for n in reading.not_looked}
    refused = sorted((r.reason, r.raw) for r in reading.rejects)
    return records, absent, refused


@cache
def plain(seed):
    return told(written(long_rows(walks(seed))))


@each_of("seed", range(12))
def test_a_long_and_a_wide_sheet_of_the_same_walks_say_the_same(seed):
    assert told(written(wide_rows(walks(seed)))) == plain(seed)


@each_of(("rows", "seed"), list(product([long_rows, wide_rows], range(8))))
def test_the_order_of_the_columns_says_nothing(rows, seed):
    assert told(written(rows(walks(seed)), shuffled=seed)) == plain(seed)


@each_of(
    ("rows", "delimiter", "codec", "eol"),
    list(
        product(
            [long_rows, wide_rows],
            [",", ";", "\t", "|"],
            ["utf-8", "utf-8-sig", "cp1252", "utf-16"],
            ["\r\n"],
        )
    ),
)
def test_delimiter_encoding_and_line_ends_say_nothing(rows, delimiter, codec, eol):
    content = written(rows(walks(99)), delimiter=delimiter, codec=codec, eol=eol)
    assert told(content) == plain(99)


@pytest.mark.parametrize(("rows", "language"), list(product([long_rows, wide_rows], range(4))))
def test_headings_in_other_words_and_languages_say_the_same(rows, language):
    assert told(written(rows(walks(7)), language=language)) == plain(7)


@pytest.mark.parametrize(("rows", "dates"), list(product([long_rows, wide_rows], WRITTEN)))
def test_a_date_written_another_way_is_the_same_day(rows, dates):
    assert told(written(rows(walks(8)), dates=dates)) == plain(8)


@each_of(("rows", "seed"), list(product([long_rows, wide_rows], range(6))))
def test_titles_above_blank_rows_between_and_a_sum_below_add_nothing(rows, seed):
    lines = written(rows(walks(seed))).decode().splitlines()
    commas = "," * lines[0].count(",")
    total = "TOTAL" + "," * (lines[0].count(",") - 1) + ",99"
    framed = [f"What we found in March{commas}", commas, lines[0]]
    framed += [line for row in lines[1:] for line in (row, commas)] + [total]
    assert told("\n".join(framed).encode()) == plain(seed)


def test_the_plain_sheets_lose_nothing_and_have_counts_of_every_kind():
    # a shape that lost everything would agree with another that lost everything
    kinds = set()
    for seed in range(8):
        records, absent, refused = plain(seed)
        assert len(records) + len(absent) + len(refused) == len(walks(seed)) * len(COUNTED)
        assert absent
        assert refused
        kinds |= {how for _, _, _, _, _, how, *_ in records}
    assert kinds == {"counted", "at_least", "infested", "present"}
