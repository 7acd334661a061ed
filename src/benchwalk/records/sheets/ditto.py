"""Marks for "the same as above", in columns that name days, places, pests and the like."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from benchwalk.records.sheets.block import Block
from benchwalk.records.sheets.layout import Layout
from benchwalk.records.sheets.page import text_at
from benchwalk.records.sheets.words import fold

SIGNS = frozenset({'"', "''", "″", "〃", "“", "”", "„", "«", "»"})
WORDS = frozenset({"ditto", "do", "dito", "dto", "idem", "id", "same", "igual"})


def without_ditto(block: Block, layout: Layout, meanings: Collection[str]) -> Block:
    """The table with what stands above written where a mark says so; counts are never filled."""
    columns = [
        c.index
        for c in layout.columns
        if c.meaning in meanings and c.index not in block.added and not block.turned
    ]
    columns = [n for n in columns if any(_is_ditto(text_at(row, n)) for row in block.rows[1:])]
    if not columns:
        return block
    rows = [list(row) for row in block.rows]
    marks = []
    for n in columns:
        above = ""
        for number, row in enumerate(rows[1:], start=2):
            if _is_ditto(text_at(row, n)) and above:
                row[n] = above
                marks.append((number, n))
            above = text_at(row, n) or above
    first = block.at(*min(marks)) if marks else None
    return replace(block, rows=tuple(map(tuple, rows)), ditto=first)


def _is_ditto(text: str) -> bool:
    return bool(text) and (text in SIGNS or (len(text) < 7 and fold(text) in WORDS))
