"""Files that break, mislead or were made to harm: one sentence, little memory, nothing recorded."""

import io
import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import openpyxl
import pytest

from tests.patience import line_of

LONGER_THAN_A_FILE_HAS_S = 150.0
MEMORY = 300  # megabytes a refusal may take, Python included
# a program that has imported what an import needs, and forks for each file it is told of; the peak
# is that of the fork alone (proc(5), VmHWM): that of getrusage begins with the parent's
STARTED = """
import json, os, re, signal, sys
from pathlib import Path
import benchwalk.records.sheets.bring
from benchwalk.cli import app

def read_a_file(words, told, said):
    for number, path in enumerate((told, said), start=1):
        os.dup2(os.open(path, os.O_WRONLY | os.O_CREAT), number)
    signal.alarm(120)
    try:
        app(words)
    finally:
        peak = re.search(r"VmHWM:\\s+([0-9]+) kB", Path("/proc/self/status").read_text())
        print(int(peak[1]) // 1000, file=sys.stderr)

for line in sys.stdin:
    child = os.fork()
    if child == 0:
        read_a_file(*json.loads(line))
    print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)
"""
PNG = b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00\x00\x01" + bytes(range(256)) * 40


@pytest.fixture(scope="module")
def program():
    command = [sys.executable, "-c", STARTED]
    environment = os.environ | {"BENCHWALK_DATABASE": ""}
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=environment
    ) as started:
        yield started


@pytest.fixture
def imported(program, tmp_path):
    """Exit code, what was said, and peak memory of a dry run in a process of its own."""

    def run(path, *more):
        files = tmp_path / "told.json", tmp_path / "said.txt"
        words = ["import", str(path), "--dry-run", "--json", *more]
        program.stdin.write(json.dumps([words, *map(str, files)]) + "\n")
        program.stdin.flush()
        code = int(line_of(program, LONGER_THAN_A_FILE_HAS_S))
        assert code >= 0, f"{path.name} was not read within two minutes: killed by signal {-code}"
        told, said = (file.read_text(encoding="utf-8") for file in files)
        *said, memory = said.strip().splitlines()
        return code, told, "\n".join(said), int(memory)

    return run


SHARED = "xl/sharedStrings.xml"
TYPE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/sharedStrings"
RELATION = f'<Relationship Type="{TYPE}" Target="sharedStrings.xml" Id="rId99"/></Relationships>'


def book(change):
    """A small workbook with a table of texts and one part changed: (name, bytes) -> bytes."""
    plain = openpyxl.Workbook()
    plain.active.append(["Date", "Unit", "Plant", "Pest", "Stage", "Count"])
    plain.active.append(["2024-05-07", "Bay 1", 1, "thrips", "adult", 3])
    whole = io.BytesIO()
    plain.save(whole)
    out = io.BytesIO()
    with (
        zipfile.ZipFile(whole) as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as new,
    ):
        for name in (*old.namelist(), SHARED):
            body = b"<sst/>" if name == SHARED else old.read(name)
            if name == "xl/_rels/workbook.xml.rels":
                body = body.replace(b"</Relationships>", RELATION.encode())
            body = change(name, body)
            with new.open(name, "w") as part:
                for piece in [body] if isinstance(body, bytes) else body:
                    part.write(piece)
    return out.getvalue()


def bomb(name, body):
    """A sheet that unpacks to 400 MB of spaces."""
    if name != "xl/worksheets/sheet1.xml":
        return body
    head, tail = body.split(b"<sheetData>")
    return [head, b"<sheetData>", *([b" " * 1_000_000] * 400), tail]


def many_texts(name, body):
    """A table of texts of 200 MB."""
    if name != SHARED:
        return body
    entry = b"<si><t>" + b"x" * 100_000 + b"</t></si>"
    return [b"<sst>", *([entry] * 2_000), b"</sst>"]


def many_cells(name, body):
    """A sheet of three million cells."""
    if name != "xl/worksheets/sheet1.xml":
        return body
    head, _ = body.split(b"<sheetData>")
    row = b"<row>" + b"<c><v>1</v></c>" * 1_000 + b"</row>"
    return [head, b"<sheetData>", *([row] * 3_000), b"</sheetData></worksheet>"]


def laughs(name, body):
    """Texts that are made of texts that are made of texts."""
    if name != SHARED:
        return body
    entities = "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 10))
    doctype = f'<!DOCTYPE sst [<!ENTITY a0 "ha">{entities}]>'.encode()
    return doctype + b"<sst><si><t>&a9;</t></si></sst>"


def huge_dimension(name, body):
    return body.replace(b'ref="A1:F2"', b'ref="A1:XFD1048576"')


def stray(name, body):
    if name != "xl/worksheets/sheet1.xml":
        return body
    far = b'<row r="1048576"><c r="XFD1048576"><v>5</v></c></row></sheetData>'
    return body.replace(b"</sheetData>", far)


# each made when its test begins: together they are some 100 MB
REFUSED = {
    "image.csv": (lambda: PNG, "file_is_not_a_table"),
    "image.xlsx": (lambda: PNG, "file_is_not_a_table"),
    "empty.csv": (lambda: b"", "file_truncated"),
    "quote.csv": (lambda: b'Date,Unit,Pest,Count\n2024-05-07,Bay 1,"thrips', "file_truncated"),
    "rows.csv": (lambda: b"\n" * 15_000_000, "file_truncated"),
    "letters.csv": (lambda: b"x" * 15_000_000, "file_is_not_a_table"),
    "cells.csv": (lambda: b"1,2\n" * 3_900_000, "file_too_large_unpacked"),
    "commas.csv": (lambda: b"," * 15_000_000, "file_too_large_unpacked"),
    "quotes.csv": (lambda: b'Date,"Unit' + b'"' * 14_000_000, "file_truncated"),
    "half.xlsx": (lambda: book(lambda _, body: body)[:3000], "file_truncated"),
    "bomb.xlsx": (lambda: book(bomb), "file_too_large_unpacked"),
    "texts.xlsx": (lambda: book(many_texts), "file_too_large_unpacked"),
    "many.xlsx": (lambda: book(many_cells), "file_too_large_unpacked"),
    "laughs.xlsx": (lambda: book(laughs), "file_is_not_a_table"),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", REFUSED)
def test_a_hostile_file_is_refused_in_one_sentence_within_bounded_memory(name, tmp_path, imported):
    content, reason = REFUSED[name]
    (tmp_path / name).write_bytes(content())
    code, told, said, memory = imported(tmp_path / name, "--data", str(tmp_path / "data"))
    assert (code, json.loads(told)["file_reject"]) == (1, reason)
    assert name in said
    assert "Traceback" not in said
    assert len(said.splitlines()) == 1
    assert memory < MEMORY
    assert not (tmp_path / "data").exists()


@pytest.mark.slow
def test_a_file_of_a_gigabyte_is_refused_at_once(tmp_path, imported):
    path = tmp_path / "huge.csv"
    with path.open("wb") as handle:
        handle.truncate(1_000_000_000)
    code, told, said, memory = imported(path, "--data", str(tmp_path / "data"))
    assert (code, json.loads(told)["file_reject"]) == (1, "file_too_large_unpacked")
    assert "divide it by years" in said
    assert memory < MEMORY


@pytest.mark.slow
@pytest.mark.parametrize("change", [huge_dimension, stray])
def test_a_sheet_with_a_false_size_or_a_stray_cell_is_read_in_little_memory(
    change, tmp_path, imported
):
    path = tmp_path / "book.xlsx"
    path.write_bytes(book(change))
    code, told, _, memory = imported(path, "--data", str(tmp_path / "data"))
    assert (code, len(json.loads(told)["records"])) == (0, 1)
    assert memory < MEMORY


@pytest.mark.slow
def test_more_counts_than_can_be_held_are_refused_with_what_to_do(tmp_path, imported):
    path = tmp_path / "wide.csv"
    pests = ("thrips", "aphids", "whitefly", "mealybug", "leafminer", "fungus gnat")
    lines = [f"2024-05-07,Bay {n % 40},10,1,1,1,1,1,1" for n in range(60_000)]
    path.write_text("\n".join(["Date,Unit,Plants," + ",".join(pests), *lines, ""]))
    code, told, said, memory = imported(path, "--data", str(tmp_path / "data"))
    assert (code, json.loads(told)["file_reject"]) == (1, "file_too_large_unpacked")
    assert "150,000 counts" in said
    assert memory < MEMORY


@pytest.mark.parametrize("make", ["missing", "folder"])
def test_a_file_that_is_gone_or_is_a_folder_is_told_in_one_sentence(make, tmp_path, imported):
    path = tmp_path / "sheet.csv"
    if make == "folder":
        path.mkdir()
    code, told, said, _ = imported(path, "--data", str(tmp_path / "data"))
    assert (code, told) == (1, "")
    assert str(path) in said
    assert "Traceback" not in said


def test_a_file_that_may_not_be_read_is_told_in_one_sentence(tmp_path, monkeypatch):
    from typer.testing import CliRunner  # noqa: PLC0415 - only this test runs in its own process

    from benchwalk.cli import app  # noqa: PLC0415 - the same

    path = tmp_path / "sheet.csv"
    path.write_text("Date,Unit\n")

    usual = Path.open

    def locked(self, *args, **kwargs):
        if self == path:
            raise PermissionError(13, "Permission denied", str(path))
        return usual(self, *args, **kwargs)

    # root may read every file, so the refusal of the system is played
    monkeypatch.setattr(Path, "open", locked)
    found = CliRunner().invoke(app, ["import", str(path), "--data", str(tmp_path / "data")])
    assert found.exit_code == 1
    assert "Permission denied" in found.stderr
    assert "Traceback" not in found.stderr
