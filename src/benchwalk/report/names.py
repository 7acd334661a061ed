"""What an operation calls things: its own name first, then the language's, then what there is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

from benchwalk import reference
from benchwalk.catalogue import say, strings
from benchwalk.records import Threshold, queries
from benchwalk.report.figures import shown
from benchwalk.summarise import Key
from benchwalk.summarise.gathered import Gathered


class Named(Protocol):
    """A row of vocabulary: a code, and its names by language with the operation's own."""

    code: str
    names: dict[str, object]


@dataclass(frozen=True)
class Names:
    """The names of one operation in one language."""

    known: Gathered
    locale: str

    def taxon(self, code: str) -> str:
        return self._of(self.known.taxa, code)

    def stage(self, code: str) -> str:
        return self._of(self.known.stages, code)

    def method(self, code: str) -> str:
        return self._of(self.known.methods, code)

    def crop(self, code: str) -> str:
        return self._of(self.known.crops, code)

    def phase(self, code: str) -> str:
        """A phase is none of the operation's vocabulary: the reference's name, or its code."""
        if code == "not_said":
            return say("week.phase_not_said", self.locale)
        return self._shipped(reference.Phase, code)

    def per(self, quantity: str) -> str:
        """Reads "per plant", "per card and week"; an item of the operation's own by its code."""
        item = self.item(quantity.removeprefix("per_"))
        return _catalogued("week.per", quantity, self.locale) or say(
            "week.per_other", self.locale, item=item
        )

    def item(self, code: str) -> str:
        return self._shipped(reference.SamplingUnit, code)

    def reason(self, code: str) -> str:
        """Why nobody looked: a word of the catalogue, or what the scout wrote."""
        return _catalogued("reason", code, self.locale) or shown(code)

    def place(self, unit: queries.Place) -> str:
        return shown(unit.full_name)

    def series(self, key: Key | Threshold) -> str:
        """The pest with its stage: a larva of one pest is a nymph of another."""
        return say(
            "week.pest_stage",
            self.locale,
            pest=self.taxon(key.taxon),
            stage=self.stage(key.stage),
        )

    def source(self, threshold: Threshold) -> str:
        """Where a threshold comes from; a source of the operation's own as it was written."""
        try:
            return shown(reference.cite(threshold.source, threshold.status, self.locale))
        except reference.NoSuchKey:
            mark = _catalogued("reference.status", threshold.status, self.locale)
            return " ".join(part for part in (shown(threshold.source), mark) if part)

    def _of(self, rows: Mapping[str, Named], code: str) -> str:
        names = rows[code].names
        own = names.get("own")
        if isinstance(own, list) and own:
            return shown(str(own[0]))
        return shown(str(names.get(self.locale, names.get("en", _spaced(code)))))

    def _shipped(
        self, table: type[reference.Phase] | type[reference.SamplingUnit], key: str
    ) -> str:
        try:
            row = reference.one(table, key)
        except reference.NoSuchKey:
            return _spaced(key)
        return row.name_es if self.locale == "es" else row.name


def _catalogued(prefix: str, code: str, locale: str) -> str:
    """The catalogue's word for a code, "" when it has none: codes of an operation's own."""
    key = f"{prefix}.{code}"
    return say(key, locale) if key in strings() else ""


def _spaced(code: str) -> str:
    return shown(code.replace("_", " "))
