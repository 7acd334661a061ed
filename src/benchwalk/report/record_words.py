"""Words for what records hold: the kind of a record, and a code in a field."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from benchwalk import reference
from benchwalk.catalogue import say, strings
from benchwalk.report.figures import shown

#: fields whose codes have words elsewhere in the catalogue
ELSEWHERE = {"per": ("week.per",), "reason": ("reason",), "kind": ("report.kind",)}


def kind_words(kind: str, locale: str, said: Mapping[str, Any] | None = None) -> str:
    """The name of a kind of record; with what it says, a look is told from a reading."""
    if kind == "observation" and said and said.get("kind") in ("look", "reading"):
        return say(f"page.value.{said['kind']}", locale)
    key = f"report.record.{kind}"
    return say(key, locale) if key in strings() else shown(kind.replace("_", " "))


def coded(field: str, text: str, locale: str) -> str:
    """The word for a code in a field; "" where it is none that the catalogue knows."""
    if field == "phase" and text not in ("any", "gone", "not_said"):
        return _phase(text, locale)
    if field == "source":
        return _source(text, locale)
    if field == "colour":
        return colour_word(text, locale)
    for prefix in (f"page.value.{field}", *ELSEWHERE.get(field, ()), "page.value"):
        if f"{prefix}.{text}" in strings():
            return say(f"{prefix}.{text}", locale)
    return ""


def colour_word(colour: str, locale: str) -> str:
    """A flag's colour; the operation's own words for one stay as they are."""
    key = f"phone.colour_{colour}"
    return say(key, locale) if key in strings() else shown(colour)


def _phase(code: str, locale: str) -> str:
    """The reference's name of a phase."""
    try:
        row = reference.one(reference.Phase, code)
    except reference.NoSuchKey:
        return ""
    return shown(row.name_es if locale == "es" else row.name)


def _source(key: str, locale: str) -> str:
    """What the bibliography calls a source; an operation's own stands as it was written."""
    try:
        return shown(reference.cite(key, "", locale))
    except reference.NoSuchKey:
        return ""
