"""What leaves as a file: no cell that a spreadsheet runs, no field of a text that nobody wrote.

Cells: OWASP, CSV Injection (a cell that begins with =, +, -, @, tab or return is a formula; from
memory). Calendars: RFC 5545, 3.1 (content lines). Names of files: RFC 6266. Files are read by
openpyxl, icalendar, pypdf and the standard library's readers of CSV, XML and JSON.
"""

from __future__ import annotations

import csv
import io
import json
import re
import zipfile
from xml.etree import ElementTree as ET

import icalendar
import openpyxl
import pypdf
import pytest
from typer.testing import CliRunner

import benchwalk.records as r
from benchwalk.cli import app
from benchwalk.records.accounts import links
from benchwalk.records.database import writing
from benchwalk.records.exports.names import masking
from benchwalk.records.setup import set_up
from benchwalk.web.export_pages import OFFERED
from benchwalk.web.report_pages import FILES
from tests.web.security.a_planted_nursery import BODY, HEADS
from tests.web.security.markup import MARK, TURNED, Markup, as_shown, made

RUNS = ("=", "+", "-", "@", "\t", "\r")
NAME = as_shown(HEADS[0] + BODY).strip()  # of the operation


@pytest.fixture(scope="module")
def files(planted_office):
    """Every file of the report and of the exports, by its address."""
    # the two papers differ in their size
    names = [name for name in FILES if "letter" not in name]
    wanted = [f"/exports/{one.name}" for one in OFFERED] + [f"/report/{name}" for name in names]
    return {address: planted_office.get(address) for address in wanted}


@pytest.fixture(scope="module")
def parts(files):
    """The files inside of each export, by their names."""
    held = {}
    for address, answer in files.items():
        if address.endswith(".zip"):
            with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
                held |= {f"{address}: {n}": archive.read(n) for n in archive.namelist()}
    return held


def texts(parts, *ends):
    return {name: held.decode("utf-8") for name, held in parts.items() if name.endswith(ends)}


def is_number(cell):
    return re.fullmatch(r"[-+]?\d+(\.\d+)?(e[-+]?\d+)?", cell) is not None


@pytest.mark.parametrize("cell", ["=1+2", " =1", "+1[unit.name]", "\t=1", "@sum(1)", "-a"])
def test_a_cell_that_runs_is_known_when_it_is_seen(cell):
    assert runs(cell)
    assert not runs(f"'{cell}")
    assert not runs("-1.5")


def runs(cell):
    return cell.lstrip(" \n").startswith(RUNS) and not is_number(cell)


def test_spreadsheet_injection_no_cell_of_a_table_is_a_formula(parts):
    tables = texts(parts, ".csv", ".tsv", ".txt")
    assert len(tables) >= 10
    cells = [
        (name, cell)
        for name, text in tables.items()
        for row in csv.reader(io.StringIO(text, newline=""), _dialect(name))
        for cell in row
    ]
    assert sum(MARK in cell for _, cell in cells) > 100
    assert [(name, cell) for name, cell in cells if runs(cell)] == []


def _dialect(name):
    return "excel-tab" if name.endswith((".tsv", ".txt")) else "excel"


@pytest.mark.parametrize("address", ["/exports/records.xlsx", "/report/week.xlsx"])
def test_spreadsheet_injection_no_cell_of_a_workbook_is_a_formula_or_leads_away(files, address):
    content = files[address].content
    book = openpyxl.load_workbook(io.BytesIO(content))
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert [cell.value for cell in cells if cell.data_type == "f"] == []
    assert sum(MARK in str(cell.value) for cell in cells) > 10
    assert [c.hyperlink.target for c in cells if c.hyperlink and c.hyperlink.target] == []
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        for name in archive.namelist():
            assert not name.startswith(("xl/externalLinks", "xl/vba"))
            if name.endswith((".xml", ".rels")):
                assert names_of_elements(archive.read(name)).isdisjoint({MARK, "f", "script"})


def names_of_elements(xml):
    return {element.tag.rpartition("}")[2] for element in ET.fromstring(xml).iter()}


def test_stored_injection_no_text_becomes_an_element_of_a_description(parts):
    described = texts(parts, ".xml")
    assert [name.rpartition("/")[2] for name in described] == ["meta.xml"]
    for text in described.values():
        assert names_of_elements(text).isdisjoint({MARK, "script", "img", "svg"})
    for text in texts(parts, ".json", ".jsonl").values():
        assert [json.loads(line) for line in (text.splitlines() if "\n{" in text else [text])]


def test_stored_injection_a_page_of_its_own_runs_nothing(files):
    """It has its style inside, as it has to stand alone; nothing else."""
    source = files["/report/week.html"].text
    own = ("style", "data:")
    assert [fault for fault in made(source) if not fault.partition(": ")[2].startswith(own)] == []
    page = Markup(source)
    assert page.named("script") == []
    assert NAME in page.words


def test_stored_injection_a_sheet_to_print_does_nothing_when_it_is_opened(files):
    read = pypdf.PdfReader(io.BytesIO(files["/report/week-a4.pdf"].content))
    assert {"/OpenAction", "/AA", "/Names", "/AcroForm"}.isdisjoint(read.trailer["/Root"])
    noted = [note.get_object() for page in read.pages for note in page.get("/Annots", ())]
    assert {note.get("/A", {}).get("/S") for note in noted} <= {"/GoTo", None}
    assert MARK in read.pages[0].extract_text()


def test_header_injection_the_name_of_a_file_holds_nothing_that_somebody_wrote(files):
    for address, answer in files.items():
        assert answer.status_code == 200, address
        held = answer.headers["content-disposition"]
        assert re.fullmatch(r'attachment; filename="[a-z0-9-]+\.[a-z0-9]+"', held, re.I), held
        assert "set-cookie" not in answer.headers


def test_header_injection_a_calendar_has_no_line_that_nobody_wrote(planted, planted_office):
    with writing(planted.engine, planted.operation) as s:
        token = links.make(s, "calendar", planted.manager)
    answer = planted_office.get(f"/calendar/{token}.ics")
    lines = answer.text.replace("\r\n ", "").split("\r\n")
    names = {re.match(r"[A-Z-]*", line)[0] for line in lines if line}
    known = {
        "BEGIN",
        "END",
        "VERSION",
        "PRODID",
        "CALSCALE",
        "METHOD",
        "NAME",
        "X-WR-CALNAME",
        "REFRESH-INTERVAL",
    }
    assert names <= known | {"UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY", "TRANSP", "URL"}
    assert not re.search(r"[\x00-\x08\x0b-\x0c\x0e-\x1f\u202e]", answer.text)
    assert "\n" not in answer.text.replace("\r\n", "")
    events = icalendar.Calendar.from_ical(answer.content).walk("VEVENT")
    assert any(BODY.split(" ")[0] in str(event["summary"]) for event in events)


SHOWN = [
    ["summary"],
    ["summary", "--lang", "es"],
    ["forecast"],
    ["account", "list"],
    ["person", "find", "Set-Cookie"],
    ["doctor"],
]


@pytest.mark.parametrize("command", SHOWN, ids=" ".join)
def test_terminal_injection_no_text_moves_the_cursor_or_turns_the_reading(planted, command):
    said = CliRunner().invoke(app, [*command, "--data", str(planted.folder)], color=True)
    assert said.exit_code == (command == ["doctor"]), said.output  # a photo is named, and is none
    assert TURNED.findall(said.output) == []
    assert MARK in said.output


@pytest.mark.parametrize("command", [["summary"], ["forecast"], ["account", "list"]])
def test_what_a_program_is_told_is_json_whatever_it_holds(planted, command):
    said = CliRunner().invoke(app, [*command, "--json", "--data", str(planted.folder)])
    assert MARK in json.dumps(json.loads(said.output))
    assert "\x1b" not in said.output


def test_a_pseudonym_that_was_put_in_is_not_masked_again_and_no_text_grows(engine):
    """Names and pseudonyms that name each other: each mention of one is masked once."""
    operation = set_up(engine, "A", "UTC").operation
    with writing(engine, operation) as s:
        for n in range(12):
            named = {"pseudonym": f"one two {n}", "name": "One Two", "role": "scout"}
            s.add(r.Person(operation_id=operation, **named))
        s.flush()
        assert masking(s)("seen by two, One Two") == "seen by [one two 0], [one two 0]"
