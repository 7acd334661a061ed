"""Merged cells, which hold for every row that they span."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from benchwalk.records.sheets.block import Block
from benchwalk.records.sheets.layout import Layout
from benchwalk.records.sheets.words import means


def without_merged(block: Block, layout: Layout, meanings: Collection[str]) -> Block:
    """Merged cells of places, days and names hold for every row they span."""
    rows = [list(row) for row in block.rows]
    for top, left, bottom, right in block.page.merged:
        for column in layout.columns:
            index = column.index
            if index in block.added or column.meaning not in meanings:
                continue
            if left <= block.columns[index] <= right and bottom > top:
                _fill(rows, block, index, top, bottom)
    return replace(block, rows=tuple(map(tuple, rows)))


def _fill(rows: list[list[str]], block: Block, index: int, top: int, bottom: int) -> None:
    text = ""
    for number, line in enumerate(block.lines, start=1):
        if number == 1 or not top <= line <= bottom:
            continue
        row = rows[number - 1]
        row += [""] * (index + 1 - len(row))
        text = row[index] if line == top else text
        blank = not row[index].strip() and any(c.strip() for c in row)
        if blank and means(text) != "totals":
            row[index] = text
