"""From the bytes of a file to rows of text: encoding, delimiter, quoted line breaks."""

from __future__ import annotations

import codecs
import csv
import hashlib
import io
import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from sys import intern

from benchwalk.records.sheets.found import SheetRefused
from benchwalk.records.sheets.page import Page, Row, Table
from benchwalk.records.sheets.workbook import ZIPPED, pages_of, refuse_other_workbooks

DELIMITERS = ",;\t|"
BYTE_ORDER_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig", "utf-8 with BOM"),
    (codecs.BOM_UTF16_LE, "utf-16", "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16", "utf-16"),
)
END = "end of text"
CP1252 = "latin-1 (cp1252)"
CONTROL = re.compile(r"[\x00-\x08\x0e-\x1b\x7f]")


# own choice: ten years of a large operation are a tenth of it, and it fits in 300 MB of memory
LARGEST = 16_000_000
MOST_ROWS, MOST_CELLS = 200_000, 2_000_000


def read_table(path: Path) -> Table:
    """The pages of a workbook (xlsx), or the rows of a delimited text file.

    Raises
    ------
    SheetRefused
        if the file is neither, has no columns, breaks off, or is too large.
    OSError
        if the file cannot be opened.
    """
    with path.open("rb") as handle:
        content = handle.read(LARGEST + 1)
    return table_of(content, path.name)


def table_of(content: bytes, file: str) -> Table:
    """The pages of a file given as bytes; see :func:`read_table`."""
    if len(content) > LARGEST:
        raise SheetRefused(
            "file_too_large_unpacked",
            f"{file} has more than {LARGEST // 1_000_000} MB; expected a sheet: divide it by years",
        )
    digest = hashlib.sha256(content).hexdigest()
    refuse_other_workbooks(content, file)
    if content.startswith(ZIPPED):
        book = pages_of(content, file)
        return Table(file, digest, None, None, book.pages, book.from_1904)
    text, encoding = _decoded(content, file)
    if not text.strip():
        raise SheetRefused("file_truncated", f"{file} is empty; expected a sheet: export it again")
    delimiter = _delimiter(text, file)
    rows = _records(_ditto_quoted(text, delimiter, file), delimiter, file)
    _complete(rows, text, file)
    written = f"{encoding}, {_line_ends(text)}"
    return Table(file, digest, written, delimiter, (Page(rows),))


def _decoded(content: bytes, file: str) -> tuple[str, str]:
    text, encoding = _text(content)
    text = text.lstrip("\ufeff")
    if CONTROL.search(text):
        raise SheetRefused(
            "file_is_not_a_table",
            f"{file} holds bytes that no text has; expected a sheet saved as CSV: export it again",
        )
    return text, encoding


def _text(content: bytes) -> tuple[str, str]:
    for mark, codec, name in BYTE_ORDER_MARKS:
        if content.startswith(mark):
            # a wrong byte becomes the replacement character, which no name matches
            return content.decode(codec, errors="replace"), name
    try:
        return content.decode("utf-8"), "utf-8"
    except UnicodeDecodeError:
        return _almost_utf8(content) or (content.decode("cp1252", errors="replace"), CP1252)


def _almost_utf8(content: bytes) -> tuple[str, str] | None:
    """UTF-8 with a few wrong bytes; none where other signs than ASCII are mostly wrong."""
    text = content.decode("utf-8", errors="replace")
    lost = text.count("\ufffd")
    return (text, "utf-8") if sum(not c.isascii() for c in text) > 2 * lost else None


def _line_ends(text: str) -> str:
    if "\r\n" in text:
        return "CRLF"
    return "CR" if "\r" in text and "\n" not in text else "LF"


def _delimiter(text: str, file: str) -> str:
    """The sign that divides the first rows into the most fields, equally many in a row."""
    head = text[:20_000]
    best = max(DELIMITERS, key=lambda d: _regularity(head, d))
    if _regularity(head, best) == 0:
        raise SheetRefused(
            "file_is_not_a_table",
            f"{file} has no columns; expected fields divided by comma, semicolon or tab",
        )
    return best


def _regularity(head: str, delimiter: str) -> float:
    """Signs that divide fields, in the rows that have the width of most rows, by their share."""
    widths = [len(r) for r in _loose(head, delimiter)[:50] if r]
    wide = {w for w in widths if w > 1}
    return max(((w - 1) * widths.count(w) ** 2 / len(widths) for w in wide), default=0)


def _loose(text: str, delimiter: str) -> list[list[str]]:
    try:
        return list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter))
    except csv.Error:
        # one field longer than any cell: this delimiter does not divide this text
        return []


def _records(text: str, delimiter: str, file: str) -> tuple[Row, ...]:
    """The records of a text, quotes as they should be; where they are not, as they stand."""
    if text.count(delimiter) > MOST_CELLS:
        raise _too_large(file)
    try:
        return tuple(_each(text, delimiter, file, strict=True))
    except csv.Error as error:
        if _open_at_end(text, delimiter, file):
            raise SheetRefused(
                "file_truncated",
                f"{file} ends inside a quoted cell; expected a closing quote: export it again",
            ) from error
    try:
        return tuple(_each(text, delimiter, file, strict=False))
    except csv.Error:
        # one field longer than any cell: this text is not divided
        return ()


def _ditto_quoted(text: str, delimiter: str, file: str) -> str:
    """A text whose cells of one quotation mark say "as above", with these marks quoted.

    Only where all rows have one width with them and not without: else a mark opens a cell.
    """
    lone = re.compile(rf'(?:(?<={re.escape(delimiter)})|^)"(?={re.escape(delimiter)}|\r?$)', re.M)
    if not lone.search(text) or _of_one_width(text, delimiter, file):
        return text
    quoted = lone.sub('""""', text)
    return quoted if _of_one_width(quoted, delimiter, file) else text


def _of_one_width(text: str, delimiter: str, file: str) -> bool:
    try:
        widths = {len(row) for row in _each(text, delimiter, file, strict=True) if row}
    except csv.Error:
        return False
    return len(widths) == 1


def _each(text: str, delimiter: str, file: str, *, strict: bool) -> Iterator[Row]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=strict)
    cells = 0
    for number, row in enumerate(reader, start=1):
        cells += len(row)
        if number > MOST_ROWS or cells > MOST_CELLS:
            raise _too_large(file)
        yield tuple(map(intern, row))


def _too_large(file: str) -> SheetRefused:
    return SheetRefused(
        "file_too_large_unpacked",
        f"{file} has more than {MOST_ROWS:,} rows or {MOST_CELLS:,} cells; expected a sheet:"
        " divide it by years",
    )


def _open_at_end(text: str, delimiter: str, file: str) -> bool:
    """Whether a quote is open at the end of a text whose quotes are not all as they should be."""
    last: Row = ()
    try:
        for row in _each(f"{text}\n{END}", delimiter, file, strict=False):
            last = row
    except csv.Error:
        return True
    return last != (END,)


def _complete(rows: Sequence[Sequence[str]], text: str, file: str) -> None:
    """Refuse a file that breaks off inside its last row.

    Spreadsheets write every row at full width and end it; a last row that is short and not ended,
    after none that is, was cut.
    """
    filled = [len(r) for r in rows if r]
    if text.endswith(("\n", "\r")) or len(filled) < 3:
        return
    if filled[-1] < min(filled[:-1]):
        raise SheetRefused(
            "file_truncated",
            f"{file} breaks off in record {len(rows)}, after {filled[-1]} of {filled[-2]} fields;"
            " export it again",
        )
