"""Darwin Core: an archive by the standard's own lists, and no absence where nobody looked.

`darwin_core_terms.csv`: names and IRIs of terms as TDWG publishes them (repository tdwg/dwc,
dist/all_dwc_vertical.csv without the Dublin Core, material and geology terms, and
dist/all_eco_vertical.csv; namespaces from dwc.tdwg.org/list and eco.tdwg.org/list).
"""

import csv
import datetime as dt
import re
import xml.etree.ElementTree as ElementTree
from collections import Counter
from pathlib import Path

import pytest
import sqlalchemy as sa

from benchwalk.records import queries
from benchwalk.records.database import session
from benchwalk.records.exports.darwin import BESIDE, write_darwin
from benchwalk.records.exports.moment import moment
from tests.leaving.eventful import NAME, OTHER

TERMS = Path(__file__).parent / "darwin_core_terms.csv"
TEXT = "{http://rs.tdwg.org/dwc/text/}"  # Darwin Core Text Guide, namespace of meta.xml
EVER, LATE = dt.date(2000, 1, 1), dt.date(2100, 1, 1)
# recommended values of occurrenceStatus: those of the term as changed in 2026, and the older ones
STATUS = ({"detected", "notDetected"}, {"present", "absent"})
BOOLEAN = {"true", "false", ""}
CARD_ZEROS = (
    "SELECT count(*) FROM tally t JOIN observation o ON o.id = t.observation_id"
    " WHERE o.kind = 'reading' AND t.number = 0"
)
PAIRS = (
    ("sampleSizeValue", "sampleSizeUnit"),
    ("samplingEffortValue", "samplingEffortUnit"),
    ("organismQuantity", "organismQuantityType"),
)


def archive(folder):
    """The tables of an archive, read by nothing but its meta.xml, as the Text Guide says."""
    root = ElementTree.parse(folder / "meta.xml").getroot()
    assert root.tag == f"{TEXT}archive"
    tables = {}
    for part in root:
        location = part.find(f"{TEXT}files/{TEXT}location").text
        key = part.find(f"{TEXT}{'id' if part.tag == f'{TEXT}core' else 'coreid'}")
        fields = {int(f.get("index")): f.get("term") for f in part.findall(f"{TEXT}field")}
        ends = part.get("linesTerminatedBy").replace("\\n", "\n")
        with (folder / location).open(encoding=part.get("encoding"), newline=ends) as file:
            rows = list(csv.reader(file, delimiter=part.get("fieldsTerminatedBy")))
        rows = rows[int(part.get("ignoreHeaderLines")) :]
        assert all(len(row) == len(fields) for row in rows), location
        named = [
            {"": row[int(key.get("index"))]} | {fields[n]: cell for n, cell in enumerate(row)}
            for row in rows
        ]
        tables[part.get("rowType").rsplit("/terms/", 1)[0].rsplit("/", 1)[1], location] = named
    return tables


def faults(folder, status=STATUS[0]):
    """What an archive breaks of the standard: sentences, by hand from the definitions of terms."""
    known = {row["iri"] for row in csv.DictReader(TERMS.read_text("utf-8").splitlines())}
    tables = archive(folder)
    events = tables["dwc", "event.csv"]
    ids = Counter(row[""] for row in events)
    said = [f"event {i} stands {n} times" for i, n in ids.items() if n > 1 or not i]
    for (_, file), rows in tables.items():
        said += [
            f"{file}: no such term {t}" for t in (rows[0] if rows else ()) if t and t not in known
        ]
        said += [f"{file}: {row['']} is no event" for row in rows if row[""] not in ids]
        for row in rows:
            said += [f"{file}: {fault}" for fault in _of_row(_short(row), ids, status)]
    occurrences = Counter(_short(row)["occurrenceID"] for row in tables["dwc", "occurrence.csv"])
    return said + [f"occurrence {i} stands {n} times" for i, n in occurrences.items() if n > 1]


def _short(row):
    return {term.rsplit("/", 1)[-1]: cell for term, cell in row.items()}


def _of_row(row, ids, status):
    """Sentences about one row, where it has the terms that they are about."""
    given = {
        "parentEventID leads nowhere": row.get("parentEventID", "") not in {"", *ids},
        "eventDate is not ISO 8601": not re.fullmatch(
            r"\d{4}-\d\d-\d\d", row.get("eventDate", "2026-01-01")
        ),
        "occurrenceStatus": "occurrenceStatus" in row and row["occurrenceStatus"] not in status,
        "basisOfRecord": row.get("basisOfRecord", "HumanObservation") != "HumanObservation",
        "neither true nor false": any(
            cell not in BOOLEAN for term, cell in row.items() if re.match(r"is[A-Z]", term)
        ),
        "absentTaxa where no absence is reported": bool(row.get("absentTaxa"))
        != (row.get("isAbsenceReported") == "true"),
        "an absence without a scope": row.get("isAbsenceReported") == "true"
        and not row["targetTaxonomicScope"],
        "none counted, and detected": row.get("individualCount") == "0"
        and row["occurrenceStatus"] in ("detected", "present"),
    }
    pairs = [f"{v} without {u}" for v, u in PAIRS if v in row and bool(row[v]) != bool(row[u])]
    return pairs + [sentence for sentence, broken in given.items() if broken]


@pytest.fixture
def folder(now, tmp_path):
    made = tmp_path / "darwin"
    made.mkdir()
    write_darwin(now, made)
    return made


@pytest.fixture(scope="session")
def of_demo(nursery, tmp_path_factory):
    made = tmp_path_factory.mktemp("darwin")
    with moment(*nursery) as s:
        write_darwin(s, made)
    return made


def occurrences(folder):
    return [_short(row) for row in archive(folder)["dwc", "occurrence.csv"]]


def test_the_archive_keeps_to_the_standards_terms_and_definitions(folder):
    assert faults(folder) == []


def test_the_demos_archive_keeps_to_them_too(of_demo):
    assert faults(of_demo) == []


BREAKS = {
    "a term of no list": ("meta.xml", "terms/locality", "terms/placeName", "no such term"),
    "a value without its unit": ("event.csv", ",3,leaf,", ",3,,", "sampleSizeValue without"),
    "an older word among the new": ("occurrence.csv", "notDetected", "absent", "occurrenceStatus"),
    "an occurrence of no event": ("occurrence.csv", "\n0", "\n1", "is no event"),
}


@pytest.mark.parametrize("what", BREAKS)
def test_the_check_finds_what_is_broken_by_hand(folder, what):
    file, was, now, sentence = BREAKS[what]
    text = (folder / file).read_text("utf-8")
    assert was in text
    (folder / file).write_text(text.replace(was, now, 1), encoding="utf-8")
    assert any(sentence in fault for fault in faults(folder))


def test_detected_and_not_detected_are_what_was_seen(folder):
    """By hand from tests/leaving/eventful.py: the empty look and the voids have no occurrence."""
    found = Counter(
        (row["occurrenceStatus"], row["organismQuantityType"]) for row in occurrences(folder)
    )
    assert found == {
        ("detected", "individuals"): 4,
        ("detected", "individuals, at least"): 1,
        ("detected", ""): 1,
        ("detected", "individuals, mean per plant or card"): 1,
        ("notDetected", "individuals"): 3,
        ("notDetected", "individuals, mean per plant or card"): 1,
    }


def test_the_older_words_are_one_switch(now, tmp_path):
    write_darwin(now, tmp_path, older_words=True)
    assert faults(tmp_path, STATUS[1]) == []
    assert {row["occurrenceStatus"] for row in occurrences(tmp_path)} == {"present", "absent"}


def test_where_nobody_looked_there_is_no_event_and_so_no_absence(folder, e, read):
    """Unit 2 was skipped, passed without a look, and not heard of: no table has it."""
    events = [_short(row) for row in archive(folder)["dwc", "event.csv"]]
    assert {row["locality"] for row in events} == {"H / U1"}
    for _, file in archive(folder):
        assert str(e.unit2.id) not in (folder / file).read_text("utf-8")
    beside = Counter(row["word"] for row in read(folder / BESIDE))
    assert beside == {"not looked": 3, "not sent yet": 1, "no word": 1, "void": 2}
    assert BESIDE not in (folder / "meta.xml").read_text("utf-8")


def test_a_missing_card_is_no_event(folder, e):
    readings = [
        r for r in archive(folder)["dwc", "event.csv"] if _short(r)["eventType"] == "reading"
    ]
    assert len(readings) == 1
    assert _short(readings[0])["samplingEffort"] == "9.04 card-day; 20 of 40 square"


def test_an_absence_is_said_for_what_was_looked_for_and_no_further(folder):
    """The look at 3 adult and 0 larval thrips; the empty look, whose visit counted leaves so."""
    scopes = [_short(row) for row in archive(folder)["eco", "humboldt.csv"]]
    assert all(row["inventoryTypes"] == "restrictedSearch" for row in scopes)
    of_first = next(row for row in scopes if row["targetLifeStageScope"].count("|") == 1)
    assert (of_first["targetTaxonomicScope"], of_first["absentTaxa"]) == ("thrips", "")
    by_event = {row["eventID"]: row for row in scopes}
    with_tally = {row["eventID"] for row in occurrences(folder)}
    (empty,) = [row for event, row in by_event.items() if event not in with_tally]
    assert empty["absentTaxa"] == empty["targetTaxonomicScope"] == "thrips | western_flower_thrips"


def test_names_of_people_and_what_they_typed_stay_inside(folder):
    text = "".join(p.read_text("utf-8") for p in folder.iterdir())
    assert "scout 1" in text
    for word in (NAME, OTHER.split()[0] + " ", "Exempel", "shown by", "HYPERLINK", "@home"):
        assert word not in text


def test_occurrences_of_the_demo_are_those_of_the_named_queries(of_demo, nursery, read):
    rows = occurrences(of_demo)
    with session(*nursery) as s:
        rounds = queries.rounds(s, EVER, LATE)
        catches = queries.catches(s, EVER, LATE, dt.UTC)
        efforts = queries.efforts(s, EVER, LATE)
        called = queries.called(s, EVER, LATE)
        on_cards = s.execute(sa.text(CARD_ZEROS)).scalar_one()
    assert len(rows) == sum(one.looks for one in rounds) + len(catches) == 15_548
    absent = sum(row["occurrenceStatus"] == "notDetected" for row in rows)
    on_plants = sum(one.looks - one.infested for one in rounds)
    assert absent == on_plants + on_cards
    events = [_short(row) for row in archive(of_demo)["dwc", "event.csv"]]
    looks = sum(row["eventType"] == "look" for row in events)
    assert looks >= sum(one.looks for one in efforts)
    visits = sum(row["eventType"] == "visit" for row in events)
    skipped = sum(one.state == "skipped" for one in called)
    heard = sum(one.state is not None for one in called)
    assert visits == heard - skipped
    beside = Counter(row["word"] for row in read(of_demo / BESIDE))
    assert beside == {"not looked": skipped + 2, "no word": sum(c.state is None for c in called)}
