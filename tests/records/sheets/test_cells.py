"""The cells of a sheet's part, element by element, as ECMA-376 part 1, 18.3.1 says them."""

from xml.parsers import expat

import pytest

from benchwalk.records.sheets import cells
from benchwalk.records.sheets.cells import COLUMNS_APART, MOST_CELLS, MOST_MERGED, SheetCells
from tests.in_turn import each_of


def taken(xml, shared=(), dates=frozenset(), from_1904=False):
    """The cells of a part: (row, column) -> text, and what else was taken of it."""
    part = SheetCells(list(shared), dates, from_1904)
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartElementHandler, parser.EndElementHandler = part.start, part.end
    parser.CharacterDataHandler = part.text
    parser.Parse(f"<worksheet><sheetData>{xml}</sheetData></worksheet>", True)
    return part.cells


def texts(xml, **said):
    held = taken(xml, **said).rows
    return {(n, c): text for n, row in held.items() for c, text in row.items()}


@each_of(
    ("cell", "text"),
    [
        ('<c r="A1"><v>12</v></c>', "12"),
        ('<c r="A1" t="n"><v>2.50</v></c>', "2.5"),
        ('<c r="A1" t="b"><v>1</v></c>', "TRUE"),
        ('<c r="A1" t="b"><v>0</v></c>', "FALSE"),
        ('<c r="A1" t="str"><v>none</v></c>', "none"),
        ('<c r="A1" t="e"><v>#N/A</v></c>', "#N/A"),
        ('<c r="A1" t="d"><v>2024-05-06</v></c>', "2024-05-06"),
        ('<c r="A1" t="s"><v>0</v></c>', "first"),
        ('<c r="A1" t="s"><v>1</v></c>', "last"),
        ('<c r="A1" t="s"><v>2</v></c>', "#2"),
        ('<c r="A1" t="s"><v>x</v></c>', "#x"),
        ('<c r="A1" t="inlineStr"><is><t>a_x000D_b</t></is></c>', "a\rb"),
        ('<c r="A1" t="inlineStr"><is><r><t>two </t></r><r><t>runs</t></r></is></c>', "two runs"),
        ('<c r="A1" t="inlineStr"><is><t>4</t><rPh><t>four</t></rPh><t>2</t></is></c>', "42"),
        ('<c r="A1" t="inlineStr"><is><t>4</t><rPh/><t>2</t></is></c>', "42"),
        ('<c r="A1" s="3"><v>45418</v></c>', "2024-05-06"),
        ('<c r="A1" s="3" t="n"><v>45418.25</v></c>', "2024-05-06 06:00:00"),
        ('<c r="A1" s="2"><v>45418</v></c>', "45418"),
        ('<c r="A1" t="str" s="3"><v>45418</v></c>', "45418"),
    ],
)
def test_a_cell_holds_what_its_type_and_style_make_of_its_value(cell, text):
    row = f'<row r="1">{cell}</row>'
    assert texts(row, shared=("first", "last"), dates=frozenset({3})) == {(1, 0): text}


@pytest.mark.parametrize(
    "cell",
    ['<c r="A1"/>', '<c r="A1"><v></v></c>', '<c r="A1" s="3"><v/></c>', '<c r="A1" t="s"/>'],
)
def test_a_cell_without_a_value_holds_nothing(cell):
    found = texts(f'<row r="1">{cell}</row>', dates=frozenset({3}))
    assert found in ({}, {(1, 0): "#"})
    assert found == {} or 't="s"' in cell


def test_a_style_of_none_is_the_first():
    assert texts('<row><c r="A1"><v>1</v></c></row>', dates=frozenset({0})) == {
        (1, 0): "1900-01-01"
    }
    assert texts('<row><c r="A1"><v>1</v></c></row>', dates=frozenset({1})) == {(1, 0): "1"}


def test_rows_and_cells_without_a_name_follow_each_other():
    row = "<row><c><v>1</v></c><c><v>2</v></c></row>"
    assert texts(
        f'{row}<row r="4"><c><v>3</v></c><c r="D4"><v>4</v></c><c><v>5</v></c></row>{row}'
    ) == {
        (1, 0): "1",
        (1, 1): "2",
        (4, 0): "3",
        (4, 3): "4",
        (4, 4): "5",
        (5, 0): "1",
        (5, 1): "2",
    }


def test_a_value_ends_with_its_cell_and_text_between_elements_is_none_of_it():
    xml = '<row r="1">x<c r="A1">y<v>1</v>z</c><c r="B1">w</c>v</row>'
    assert texts(xml) == {(1, 0): "1"}


def test_spoken_text_ends_with_its_element():
    xml = (
        '<row r="1"><c r="A1" t="inlineStr"><is><rPh><t>spoken</t></rPh></is></c>'
        '<c r="B1" t="inlineStr"><is><t>written</t></is></c></row>'
    )
    assert texts(xml) == {(1, 1): "written"}


@pytest.mark.parametrize(
    ("cell", "text", "formula", "without"),
    [
        ("<f>2+3</f><v>5</v>", "5", "=2+3", False),
        ("<f>2+3</f>", "=2+3", None, True),
        ("<f>2+3</f><v></v>", "=2+3", None, True),
        ('<f t="shared" si="0"/><v>5</v>', "5", "=…", False),
        ('<f t="shared" si="0"/>', "=…", None, True),
        ('<f>IF(A2=0,"",A2)</f><v></v>', None, None, False),
        ('<f>IF(A2=0,"",A2)</f><v>7</v>', "7", '=IF(A2=0,"",A2)', False),
    ],
)
def test_a_formula_counts_by_what_it_came_to_and_is_never_worked_out(cell, text, formula, without):
    held = taken(f'<row r="1"><c r="B1">{cell}</c><c r="C1"><v>1</v></c></row>')
    assert held.rows == {1: {2: "1"} if text is None else {1: text, 2: "1"}}
    assert held.formulas == ({} if formula is None else {(1, 1): formula})
    assert held.without_value == ({(1, 1)} if without else set())


def test_cells_made_one_are_known_by_their_corners():
    held = taken(
        '<mergeCell ref="A1:C2"/><mergeCell ref="B5"/><mergeCell ref="A1:x"/>'
        '<mergeCell/><other ref="D1:E1"/><mergeCell ref="A9:A12"/>'
    )
    assert held.merged == [(1, 0, 2, 2), (9, 0, 12, 0)]


def test_no_more_merged_cells_are_held_than_a_sheet_has(monkeypatch):
    monkeypatch.setattr(cells, "MOST_MERGED", 2)
    held = taken("".join(f'<mergeCell ref="A{n}:B{n}"/>' for n in range(1, 5)))
    assert held.merged == [(1, 0, 1, 1), (2, 0, 2, 1)]


def test_more_cells_than_can_be_held_are_too_many(monkeypatch):
    monkeypatch.setattr(cells, "MOST_CELLS", 2)
    part = SheetCells([], frozenset(), False)
    for n, too_many in ((1, False), (2, False), (3, True)):
        part.cells.put((n, 0), "1")
        assert part.too_many is too_many


def test_what_is_held_of_a_sheet_has_these_bounds():
    """Own choices; the reader's memory and time are measured with them."""
    assert (MOST_CELLS, MOST_MERGED, COLUMNS_APART) == (2_000_000, 20_000, 100)
