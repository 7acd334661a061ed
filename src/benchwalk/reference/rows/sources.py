"""Where every fact comes from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from benchwalk.reference.reading import Row


@dataclass(frozen=True, kw_only=True)
class Source(Row):
    """A source, and how much of it was read: all of it, the abstract, or nothing.

    ``year`` is None where the source is undated.
    """

    table = "sources"
    key = ("source_key",)
    source_key: str
    authors: str | None
    year: int | None
    title: str
    venue: str | None
    doi: str | None
    kind: Literal[
        "paper",
        "standard",
        "regulation",
        "extension",
        "handbook",
        "trade",
        "dataset",
        "project",
        "untraced",
    ]
    seen: Literal["yes", "abstract", "no"]
    note: str | None
