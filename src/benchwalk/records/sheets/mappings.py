"""What columns mean, remembered for the next sheet with the same headings."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping, Sequence
from pathlib import Path

from benchwalk.catalogue import Refusal
from benchwalk.records.database import data_directory

Columns = Mapping[str, Mapping[str, str | None]]


class MappingsDamagedError(Refusal):
    """The file of remembered columns cannot be read."""


class Kept:
    """Mappings that a person agreed to, in one file of the data directory, by their headings."""

    def __init__(self, data: Path | None) -> None:
        self.path = (data or data_directory()) / "mappings.json"

    def of(self, headings: Sequence[str]) -> Columns | None:
        """What these headings were agreed to mean; None when nobody has agreed yet."""
        return self._all().get(_name(headings))

    def keep(self, headings: Sequence[str], mapping: Columns) -> None:
        """Remember, in one step: a cut leaves the file as it was."""
        held = self._all() | {_name(headings): {k: dict(v) for k, v in mapping.items()}}
        self.path.parent.mkdir(parents=True, exist_ok=True)
        beside = self.path.with_suffix(".new")
        beside.write_text(json.dumps(held, ensure_ascii=False, indent=1), encoding="utf-8")
        os.replace(beside, self.path)

    def _all(self) -> dict[str, Columns]:
        if not self.path.exists():
            return {}
        try:
            held: dict[str, Columns] = json.loads(self.path.read_text(encoding="utf-8"))
        except ValueError as broken:
            raise MappingsDamagedError("refused.mappings", path=self.path, fault=broken) from broken
        return held


def _name(headings: Sequence[str]) -> str:
    return json.dumps(list(headings), ensure_ascii=False)
