"""Reading somebody's scouting sheet: what each cell says, and what only a person can tell."""

from __future__ import annotations

from benchwalk.records.importing.found import (
    Assumed,
    At,
    Count,
    Duplicate,
    IgnoredColumn,
    Note,
    NothingSeen,
    NotLooked,
    Question,
    Reading,
    Reject,
    Rename,
    SheetRefused,
    Skip,
    Treatment,
)

__all__ = [
    "Assumed",
    "At",
    "Count",
    "Duplicate",
    "IgnoredColumn",
    "NotLooked",
    "Note",
    "NothingSeen",
    "Question",
    "Reading",
    "Reject",
    "Rename",
    "SheetRefused",
    "Skip",
    "Treatment",
]
