"""Everything can leave: the records for other programs, the whole of an operation, a person's own.

Each kind of export reads one moment of the records, a little at a time, and writes a new folder:
all of it, or nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import partial
from pathlib import Path

from sqlalchemy import Engine, func, select
from sqlalchemy.orm import Session

from benchwalk.records.exports.columns import write_columns
from benchwalk.records.exports.darwin import write_darwin
from benchwalk.records.exports.folder import new_folder
from benchwalk.records.exports.full import write_full
from benchwalk.records.exports.moment import moment
from benchwalk.records.exports.package import write_package
from benchwalk.records.exports.workbook import write_workbook
from benchwalk.records.operations import Ledger

WORKBOOK = "records.xlsx"


class Kind(StrEnum):
    """What an export is for: other programs, a spreadsheet, ecologists, another database."""

    PACKAGE = "package"
    XLSX = "xlsx"
    PARQUET = "parquet"
    DARWIN = "darwin"
    FULL = "full"


@dataclass(frozen=True)
class Exported:
    """A folder that was written, the ledger row it reaches to, and what was cut in it."""

    folder: Path
    seq: int | None
    cut: list[str] = field(default_factory=list)


def export(
    engine: Engine,
    operation: int,
    kind: Kind,
    to: Callable[[str], Path],
    *,
    older_words: bool = False,
) -> Exported:
    """Write an export into a new folder.

    Parameters
    ----------
    to : the folder for a name such as ``package-9207``: what it is, up to which ledger row.
    older_words : see :func:`benchwalk.records.exports.darwin.write_darwin`.

    Raises
    ------
    Refusal
        where something is in that folder already.
    """
    with moment(engine, operation) as s:
        seq = s.execute(select(func.max(Ledger.seq))).scalar()
        folder = to(f"{kind}-{'empty' if seq is None else seq}")
        with new_folder(folder) as part:
            cut = _write(s, kind, part, older_words=older_words)
        return Exported(folder, seq, cut)


def _write(session: Session, kind: Kind, folder: Path, *, older_words: bool) -> list[str]:
    """Write one kind; the places of what had to be cut, which only a workbook has."""
    if kind is Kind.XLSX:
        return write_workbook(session, folder / WORKBOOK)
    write: Mapping[Kind, Callable[[Session, Path], object]] = {
        Kind.PACKAGE: write_package,
        Kind.PARQUET: write_columns,
        Kind.DARWIN: partial(write_darwin, older_words=older_words),
        Kind.FULL: write_full,
    }
    write[kind](session, folder)
    return []
