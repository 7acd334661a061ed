"""From the bytes of a workbook (xlsx) to pages of text cells.

The parts of ECMA-376 that a sheet of counts needs, read as a stream: cells with their cached
values, formulas, number formats that make a number a day, merged cells, hidden sheets. A reader of
our own because a formula that was never worked out must not read as an empty cell, and a file made
to harm must not take the process with it; `tests/records/sheets/test_workbooks.py` compares it
with a library that is slower and one that keeps no formulas.
"""

from __future__ import annotations

import io
import posixpath
import zipfile
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from sys import intern
from xml.parsers import expat

from benchwalk.records.sheets.cells import Attributes, Cells, Elements, SheetCells, unescaped
from benchwalk.records.sheets.found import SheetRefused
from benchwalk.records.sheets.numbers import date_styles
from benchwalk.records.sheets.page import Page

ZIPPED = b"PK\x03\x04"
EMPTY_ZIP = b"PK\x05\x06"
COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"  # workbooks before 2007, and those with a password
# own choices: ten years of sheets are a tenth of them, and they bound time and memory
LARGEST_PART = 120_000_000
MOST_LETTERS = 40_000_000
MOST_PAGES = 400


@dataclass(frozen=True)
class Pages:
    """The pages of a workbook, and whether its days are counted from 1904."""

    pages: tuple[Page, ...]
    from_1904: bool


@dataclass(frozen=True)
class Listed:
    """A sheet as the workbook lists it."""

    name: str
    hidden: bool
    relation: str


def refuse_other_workbooks(content: bytes, file: str) -> None:
    """Refuse workbooks of other kinds by their first bytes, with what to do.

    Raises
    ------
    SheetRefused
    """
    if content.startswith(COMPOUND):
        raise _no_table(file, "is a workbook of an old kind, or one with a password")
    if content.startswith(EMPTY_ZIP):
        raise _no_table(file, "is an empty archive")


def pages_of(content: bytes, file: str) -> Pages:
    """The pages of a workbook given as bytes.

    Raises
    ------
    SheetRefused
        if it is no workbook of this kind, is damaged, or unpacks to more than can be read.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            return Workbook(archive, file).pages()
    except zipfile.BadZipFile as broken:
        raise _broken(file) from broken
    except (zlib.error, EOFError, expat.ExpatError, UnicodeDecodeError) as broken:
        raise _broken(file) from broken
    except (NotImplementedError, RuntimeError) as locked:
        raise _no_table(file, "is packed or locked in a way that cannot be read") from locked


def _no_table(file: str, what: str) -> SheetRefused:
    return SheetRefused(
        "file_is_not_a_table",
        f"{file} {what}; expected a sheet: open it and save it as .xlsx or as CSV",
    )


def _broken(file: str) -> SheetRefused:
    return SheetRefused(
        "file_truncated", f"{file} is a workbook that breaks off or is damaged; save it again"
    )


def _too_large(file: str) -> SheetRefused:
    return SheetRefused(
        "file_too_large_unpacked",
        f"{file} unpacks to more than a workbook of counts holds; divide it, or save each of its"
        " sheets as CSV",
    )


class Workbook:
    """A workbook's archive, read part by part; nothing is unpacked to a disk."""

    def __init__(self, archive: zipfile.ZipFile, file: str) -> None:
        self.archive, self.file = archive, file
        self.names = set(archive.namelist())
        self.listed: list[Listed] = []
        self.from_1904 = False

    def pages(self) -> Pages:
        """Every sheet of cells, in the order of the workbook."""
        main = self._main()
        self._each(main, self._listed)
        relations = self._relations(main)
        shared = self._shared(relations)
        dates = self._date_styles(relations)
        pages = []
        for sheet in self.listed[:MOST_PAGES]:
            kind, part = relations.get(sheet.relation, ("", ""))
            if kind == "worksheet":
                cells = SheetCells(shared, dates, self.from_1904)
                self._stream(part, cells)
                if cells.too_many:
                    raise _too_large(self.file)
                pages.append(_page(sheet, cells.cells))
        if not pages:
            raise _no_table(self.file, "has no sheet of cells")
        return Pages(tuple(pages), self.from_1904)

    def _main(self) -> str:
        for kind, part in self._relations("").values():
            if kind == "officeDocument" and part.rpartition("/")[2].startswith("workbook"):
                return part
        raise _no_table(self.file, "is an archive and no workbook")

    def _relations(self, of: str) -> dict[str, tuple[str, str]]:
        """Id -> (kind, part) of what a part refers to; the package itself has no name."""
        folder, _, name = of.rpartition("/")
        part = posixpath.join(folder, "_rels", f"{name}.rels")
        found: dict[str, tuple[str, str]] = {}

        def start(tag: str, attributes: Attributes) -> None:
            if tag == "Relationship" and attributes.get("TargetMode") != "External":
                target = attributes.get("Target", "")
                path = posixpath.normpath(posixpath.join("/", folder, target)).lstrip("/")
                kind = attributes.get("Type", "").rpartition("/")[2]
                found[attributes.get("Id", "")] = (kind, path)

        if part in self.names:
            self._each(part, start)
        return found

    def _listed(self, tag: str, attributes: Attributes) -> None:
        if tag == "workbookPr":
            self.from_1904 = attributes.get("date1904") in ("1", "true")
        elif tag == "sheet":
            relation = next((v for k, v in attributes.items() if k.endswith(":id")), "")
            hidden = attributes.get("state", "visible") != "visible"
            self.listed.append(Listed(attributes.get("name", ""), hidden, relation))

    def _shared(self, relations: Mapping[str, tuple[str, str]]) -> list[str]:
        strings = SharedStrings()
        for kind, part in relations.values():
            if kind == "sharedStrings" and part in self.names:
                self._stream(part, strings)
                if strings.letters > MOST_LETTERS:
                    raise _too_large(self.file)
        return strings.found

    def _date_styles(self, relations: Mapping[str, tuple[str, str]]) -> frozenset[int]:
        formats: dict[int, str] = {}
        used: list[int] = []
        inside = [False]

        def start(tag: str, attributes: Attributes) -> None:
            if tag == "numFmt":
                formats[int(attributes.get("numFmtId", "0"))] = attributes.get("formatCode", "")
            elif tag in ("cellXfs", "cellStyleXfs"):
                inside[0] = tag == "cellXfs"
            elif tag == "xf" and inside[0]:
                used.append(int(attributes.get("numFmtId", "0")))

        for kind, part in relations.values():
            if kind == "styles" and part in self.names:
                self._each(part, start)
        return date_styles(used, formats)

    def _each(self, part: str, start: Callable[[str, Attributes], None]) -> None:
        """Call with every element of a small part: its name without a prefix, its attributes."""

        class Starts(Elements):
            def start(self, tag: str, attributes: Attributes) -> None:
                start(tag, attributes)

        self._stream(part, Starts())

    def _stream(self, part: str, elements: Elements) -> None:
        if part not in self.names:
            raise _broken(self.file)
        parser = expat.ParserCreate()
        parser.buffer_text = True

        def no_types(*_: object) -> None:
            # a part that declares a document type can name files or grow without end
            raise _no_table(self.file, "declares a document type, which no sheet does")

        parser.StartDoctypeDeclHandler = no_types
        parser.StartElementHandler = lambda tag, _: _begin(parser, elements, tag)
        with self.archive.open(part) as stream:
            read = 0
            while chunk := stream.read(1 << 16):
                read += len(chunk)
                if read > LARGEST_PART or elements.too_many:
                    raise _too_large(self.file)
                parser.Parse(chunk, False)
            parser.Parse(b"", True)


def _begin(parser: expat.XMLParserType, elements: Elements, root: str) -> None:
    """Take a part from its first element on, which says by which prefix the others are named."""
    prefix, colon, _ = root.rpartition(":")
    if colon:
        own = f"{prefix}:"
        parser.StartElementHandler = lambda tag, a: elements.start(tag.removeprefix(own), a)
        parser.EndElementHandler = lambda tag: elements.end(tag.removeprefix(own))
    else:
        parser.StartElementHandler, parser.EndElementHandler = elements.start, elements.end
    parser.CharacterDataHandler = elements.text


class SharedStrings(Elements):
    """The table of texts (ECMA-376 part 1, 18.4); how a text is to be spoken is left out."""

    def __init__(self) -> None:
        self.found: list[str] = []
        self.letters = 0
        self._parts: list[str] = []
        self._take = self._spoken = False

    @property
    def too_many(self) -> bool:
        """Whether there is more text than can be held."""
        return self.letters > MOST_LETTERS

    def start(self, tag: str, attributes: Attributes) -> None:
        if tag == "si":
            self._parts = []
        elif tag == "rPh":
            self._spoken = True
        self._take = tag == "t" and not self._spoken

    def end(self, tag: str) -> None:
        self._take = False
        if tag == "rPh":
            self._spoken = False
        elif tag == "si":
            self.found.append(intern(unescaped("".join(self._parts))))

    def text(self, data: str) -> None:
        if self._take:
            self._parts.append(data)
            self.letters += len(data)


def _page(sheet: Listed, cells: Cells) -> Page:
    rows, far = cells.near()
    return Page(
        rows=rows,
        name=sheet.name,
        hidden=sheet.hidden,
        formulas=cells.formulas,
        without_value=frozenset(cells.without_value),
        merged=tuple(cells.merged),
        far=far,
    )
