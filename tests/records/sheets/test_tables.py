"""From the bytes of a file to rows of text, or a refusal of all of it."""

import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchwalk.records.sheets.found import SheetRefused
from benchwalk.records.sheets.table import read_table, table_of
from tests.in_turn import each_of

LINES = ["Date,Unit,Remarks", "2024-05-07,Bay 1,Weiße Fliege", "2024-05-08,Bay 2,"]
ROWS = tuple(tuple(line.split(",")) for line in LINES)
# the first eight bytes of every PNG file (ISO/IEC 15948:2004, 5.2), and a chunk's length and name
PNG = b"\x89PNG\r\n\x1a\n" + b"\x00\x00\x00\rIHDR" + b"\x00" * 20


def table(text, codec="utf-8"):
    return table_of(text.encode(codec), "sheet.csv")


def refusal(content):
    with pytest.raises(SheetRefused, match=r"^sheet\.csv .*(expected|export|save)") as refused:
        table_of(content, "sheet.csv")
    return refused.value.reason


@pytest.mark.parametrize(
    ("codec", "said"),
    [
        ("utf-8", "utf-8, LF"),
        ("utf-8-sig", "utf-8 with BOM, LF"),
        ("cp1252", "latin-1 (cp1252), LF"),
        ("utf-16", "utf-16, LF"),
    ],
)
def test_text_in_any_of_four_encodings_reads_alike_and_the_encoding_is_said(codec, said):
    found = table("\n".join(LINES) + "\n", codec)
    assert (found.rows, found.encoding, found.delimiter) == (ROWS, said, ",")


def test_utf_16_with_its_big_end_first_reads_too():
    content = b"\xfe\xff" + "\n".join(LINES).encode("utf-16-be")
    assert table_of(content, "sheet.csv").rows == ROWS


def test_a_mark_written_twice_is_no_part_of_the_first_heading():
    assert table("\ufeff" + "\n".join(LINES), "utf-8-sig").rows == ROWS


def test_one_wrong_byte_in_utf_8_loses_one_sign_and_not_every_accent():
    content = "a,b\nWeiße,Süß\nM".encode() + b"\xfc" + "cke,ö\n".encode()
    assert table_of(content, "sheet.csv").rows == (
        ("a", "b"),
        ("Weiße", "Süß"),
        ("M\ufffdcke", "ö"),
    )


@pytest.mark.parametrize(
    ("right", "encoding"), [("ßü", "utf-8, LF"), ("ß", "latin-1 (cp1252), LF")]
)
def test_utf_8_with_no_more_right_signs_than_wrong_ones_is_read_as_cp1252(right, encoding):
    content = f"a,b\n{right},".encode() + b"\xfc\n"
    assert table_of(content, "sheet.csv").encoding == encoding


def test_a_byte_that_cp1252_does_not_have_is_a_lost_sign():
    found = table_of(b"a,b\nM\x81cke,\xfc\n", "sheet.csv")
    assert found.rows[1] == ("M\ufffdcke", "ü")
    assert found.encoding == "latin-1 (cp1252), LF"


@each_of(("end", "called"), [("\n", "LF"), ("\r\n", "CRLF"), ("\r", "CR")])
@each_of("delimiter", [",", ";", "\t", "|"])
def test_every_line_end_and_delimiter_gives_the_same_rows(end, called, delimiter):
    found = table("".join(line.replace(",", delimiter) + end for line in LINES))
    assert found.rows == ROWS
    assert found.delimiter == delimiter
    assert found.encoding == f"utf-8, {called}"


def test_a_quoted_line_break_stays_in_its_cell_and_starts_no_record():
    found = table('a,b\r\n"one\ntwo","say ""no"""\r\n3,4\r\n')
    assert found.rows == (("a", "b"), ("one\ntwo", 'say "no"'), ("3", "4"))
    assert found.encoding == "utf-8, CRLF"


def test_a_lone_carriage_return_in_a_cell_is_not_the_line_end_of_the_file():
    found = table('a,b\n"one\rtwo",2\n')
    assert found.rows[1] == ("one\rtwo", "2")
    assert found.encoding == "utf-8, LF"


def test_cells_are_as_written_with_every_space():
    assert table("a,b\n\u00a0x , y\u00a0\n").rows[1] == ("\u00a0x ", " y\u00a0")


def test_rows_may_be_short_long_or_blank():
    assert table("a,b,c\n1\n1,2,3,4\n\n,,\n1,2,3\n").rows == (
        ("a", "b", "c"),
        ("1",),
        ("1", "2", "3", "4"),
        (),
        ("", "", ""),
        ("1", "2", "3"),
    )


def test_decimal_commas_do_not_make_a_comma_the_delimiter():
    rows = ["a;b;c"] + [f"{n};{n},5;19,2" for n in range(9)] + ["1;2", "1;2", "x"]
    assert table("\n".join(rows) + "\n").delimiter == ";"


def test_a_comma_in_every_heading_and_remark_does_not_make_it_the_delimiter():
    assert table("Day\tUnit\tSeen, what\tn\n1\tBay 1\tsoap, oil\t2\n").delimiter == "\t"


def test_semicolons_in_remarks_do_not_make_them_the_delimiter():
    assert table("a,b,c\n1,2,x; y\n1,2,x; y\n1,2,z; y\n").delimiter == ","


def test_a_line_that_tells_spreadsheets_the_delimiter_is_a_row_like_any_other():
    found = table("sep=;\na;b\n1;2\n")
    assert (found.delimiter, found.rows[1]) == (";", ("a", "b"))


@pytest.mark.parametrize(
    "content",
    [
        PNG,
        b"a,b\n1,\x002\n",
        b"a,b\n1,2\x1b\n",
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\x00" * 500,
        "a,b\n1,2\n".encode("utf-16-le"),
        b"just a line of words\nand another\n",
        b"{}",
    ],
)
def test_what_is_no_delimited_text_is_refused_as_no_table(content):
    assert refusal(content) == "file_is_not_a_table"


@pytest.mark.parametrize("content", [b"", b" \r\n\t\n", b"\xef\xbb\xbf", b"\xef\xbb\xbf\n"])
def test_an_empty_file_is_refused_as_cut(content):
    assert refusal(content) == "file_truncated"


@pytest.mark.parametrize(
    "text",
    [
        'a,b\n1,"two',
        'a,b\n1,"two\n3,4\n5,6\n',
        'a,b\n1,"two"" and',
        'a,b\n"6" pot,1\n2,"two\n3,4',
        'a,b\n1,"' + "x" * 200_000,
    ],
)
def test_a_file_that_ends_inside_a_quoted_cell_is_refused_as_cut(text):
    assert refusal(text.encode()) == "file_truncated"


def test_a_quoted_cell_that_is_closed_at_the_very_end_is_whole():
    assert table('a,b\n1,"two"').rows[1] == ("1", "two")


def test_a_quote_inside_a_cell_is_part_of_it():
    found = table('a,b\n6" pot,1\n"big" leaf,2\n"x","y"\n')
    assert [r[1] for r in found.rows] == ["b", "1", "2", "y"]
    assert found.rows[1][0] == '6" pot'
    assert found.rows[2][0] == "big leaf"


def test_a_last_row_cut_short_is_refused_and_says_where():
    with pytest.raises(
        SheetRefused, match="breaks off in record 4, after 2 of 3 fields"
    ) as refused:
        table("a,b,c\n1,2,3\n4,5,6\n7,8")
    assert refused.value.reason == "file_truncated"


def test_three_rows_are_enough_to_see_that_the_last_was_cut():
    assert refusal(b"a,b,c\n1,2,3\n\n7,8") == "file_truncated"


@pytest.mark.parametrize(
    "text",
    [
        "a,b,c\n1,2,3\n4,5,6\n7,8\n",
        "a,b,c\n1,2,3\n4,5,6\n7,8\r",
        "a,b,c\n1,2,3\n4,5\n7,8",
        "title\na,b,c\n1,2,3\n7",
        "a,b,c\n1,2",
        "a,b,c\n1,2,3\n4,5,6",
    ],
)
def test_a_short_last_row_is_whole_where_it_is_ended_or_others_are_short_too(text):
    assert table(text).rows[0][0] in ("a", "title")


def test_a_file_is_known_by_its_name_and_the_digest_of_its_bytes(tmp_path):
    path = tmp_path / "May round.csv"
    path.write_bytes(b"a,b\n1,2\n")
    found = read_table(path)
    assert found.file == "May round.csv"
    assert found.sha256 == hashlib.sha256(b"a,b\n1,2\n").hexdigest()


def test_a_file_that_is_not_there_is_not_refused_as_a_sheet(tmp_path):
    with pytest.raises(FileNotFoundError, match=r"gone\.csv"):
        read_table(tmp_path / "gone.csv")


@given(st.one_of(st.binary(max_size=200), st.text(max_size=100).map(str.encode)))
def test_any_bytes_are_a_table_or_refused_with_a_reason(content):
    assert refused_or_read(content) in ("file_truncated", "file_is_not_a_table", "read")


def refused_or_read(content):
    try:
        found = table_of(content, "sheet.csv")
    except SheetRefused as refused:
        return refused.reason
    return "read" if any(len(row) > 1 for row in found.rows) else "no columns"


CELL = st.text(st.characters(codec="utf-8", exclude_categories=["Cc"]), max_size=8)


@given(st.lists(st.tuples(CELL, CELL, CELL), min_size=1, max_size=5), st.sampled_from(",;\t|"))
def test_quoted_cells_read_back_as_they_were_written(rows, delimiter):
    lines = [delimiter.join('"' + c.replace('"', '""') + '"' for c in row) for row in rows]
    found = table("\r\n".join([delimiter.join(["Date"] * 3), *lines, ""]))
    assert list(found.rows[1:]) == rows
