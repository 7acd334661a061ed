"""What columns and misspelt units mean, remembered for the next sheet."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping, Sequence
from pathlib import Path

from benchwalk.catalogue import Refusal
from benchwalk.records.database import data_directory

Columns = Mapping[str, Mapping[str, str | None]]
UNITS, CHOICE = "units", "is"  # no list of headings has this name
UNIT = "unit:"


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
        """Remember what headings mean."""
        self._write({_name(headings): {k: dict(v) for k, v in mapping.items()}})

    def units(self) -> dict[str, str]:
        """What was answered about misspelt units: id of the question -> choice."""
        held = self._all().get(UNITS, {})
        return {f"{UNIT}{name}": str(said[CHOICE]) for name, said in held.items()}

    def keep_units(self, answers: Mapping[str, str]) -> None:
        """Remember the answers about misspelt units among these."""
        of_units = {k: v for k, v in answers.items() if k.startswith(UNIT)}
        if of_units:
            told = self.units() | of_units
            self._write({UNITS: {k.removeprefix(UNIT): {CHOICE: v} for k, v in told.items()}})

    def _write(self, more: Mapping[str, Columns]) -> None:
        """Write the file anew in one step: a cut leaves it as it was."""
        held = self._all() | dict(more)
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
