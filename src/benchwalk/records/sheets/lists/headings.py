"""What a column of a list holds, from its heading: English, Spanish and German, with its unit."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache

from benchwalk.records.sheets.headings import heading_key, listed
from benchwalk.records.sheets.lists.found import Kind
from benchwalk.records.sheets.words import fold, halfwidth, rows

IGNORED = "ignored"
# meanings that a list shares with scouting sheets, and so their words
SHARED: Mapping[Kind, tuple[str, ...]] = {
    "plantings": ("house", "unit", "crop"),
    "stations": ("house", "unit"),
    "treatments": ("house", "unit", "remarks"),
    "climate": ("house", "unit"),
}
QUANTITY = {
    "temp": "temperature",
    "temp_min": "temperature",
    "temp_max": "temperature",
    "rh": "humidity",
    "area_share": "share",
    "area": "area",
    "spacing": "density",
    "water": "volume",
    "x": "length",
    "y": "length",
}
MEASURED = ("temp", "temp_min", "temp_max", "rh")
BRACKETED = re.compile(r"[(\[]([^()\[\]]*)[)\]]")
NUMBERED = re.compile(r"(?P<what>t|temp|rh|hr|rf)(?P<number>[0-9]+)")
TEMPERATURE_SIGN = re.compile(r"[°º]\s?[cf]\b|\bdeg\s?[cf]\b", re.IGNORECASE)
ZONE = re.compile(r"\b(?:UTC|GMT)\s?([+-][0-9]{1,2}(?::?[0-9]{2})?)?(?![0-9])")
# words beside a quantity that name no sensor
PLAIN = frozenset(
    [
        "air",
        "aire",
        "luft",
        "ambient",
        "ambiente",
        "avg",
        "average",
        "mean",
        "media",
        "mittel",
        "value",
        "wert",
    ]
)


@dataclass(frozen=True)
class Meant:
    """What a heading says: a meaning, the unit of its numbers, the sensor it names."""

    meaning: str
    unit: str | None = None
    sensor: str | None = None


@cache
def words_of(kind: Kind) -> Mapping[str, str]:
    """Folded heading -> meaning, for one kind of list."""
    return {
        heading_key(row["word"]): row["meaning"]
        for row in rows("list_headings")
        if row["kind"] == kind
    }


@cache
def _units() -> Mapping[str, Mapping[str, str]]:
    held: dict[str, dict[str, str]] = {}
    for row in rows("list_units"):
        held.setdefault(row["quantity"], {})[unit_key(row["word"])] = row["unit"]
    return held


def units_of(quantity: str) -> tuple[str, ...]:
    """The units that numbers of a quantity may be written in."""
    return tuple(dict.fromkeys(_units()[quantity].values()))


def unit_key(text: str) -> str:
    """A unit for comparing: without case, spaces and points; the signs for degree are one."""
    plain = halfwidth(text).replace("º", "°").replace("℃", "°C").replace("℉", "°F")
    return re.sub(r"[\s._]+", "", plain.replace("²", "2").casefold())


def unit_in(text: str, meaning: str) -> str | None:
    """The unit that a text names, of those in which a meaning is measured."""
    return _units()[QUANTITY[meaning]].get(unit_key(text)) if meaning in QUANTITY else None


def _meaning(words: str, kind: Kind) -> str | None:
    found = words_of(kind).get(heading_key(words))
    if found is not None:
        return found
    shared = listed(words)
    return shared if shared in SHARED[kind] else None


def meant_by(heading: str, kind: Kind) -> Meant | None:
    """What a heading means in a list of a kind; None where no table knows it."""
    if kind == "climate" and (stamp := _stamp(heading)):
        return stamp
    for words, unit in _cuts(halfwidth(heading), kind):
        meaning = _meaning(words, kind)
        if meaning is not None and not (unit and unit_in(unit, meaning) is None):
            return Meant(meaning, unit_in(unit, meaning) if unit else _own_unit(words, meaning))
    return _of_sensor(heading) if kind == "climate" else None


def _own_unit(words: str, meaning: str) -> str | None:
    """The unit that a heading of the tables holds in itself: "plants per m2", "x_m"."""
    parts = (words, *re.split(r"[\s_()\[\]]+", words)[1:])
    return next((u for part in parts if (u := unit_in(part, meaning))), None)


def _stamp(heading: str) -> Meant | None:
    """A heading of times with the zone they are in: "Date Time, GMT-05:00"."""
    found = ZONE.search(heading)
    if found is None:
        return None
    words = heading_key(heading.replace(found[0], " ")).strip()
    meaning = words_of("climate").get(words)
    return Meant(meaning, f"UTC{found[1] or ''}") if meaning in ("stamp", "time") else None


def _cuts(heading: str, kind: Kind) -> Iterator[tuple[str, str]]:
    """Ways to part a heading into words and unit: whole, bracketed, or the last words."""
    yield heading, ""
    for found in BRACKETED.finditer(heading):
        yield heading.replace(found[0], " "), found[1]
        if kind != "climate":  # there brackets may hold a sensor's name
            yield heading.replace(found[0], " "), ""
    tokens = [t for t in re.split(r"[\s,;:_]+", heading) if t]
    for n in range(1, min(4, len(tokens))):
        yield " ".join(tokens[:-n]), " ".join(tokens[-n:])


def _of_sensor(heading: str) -> Meant | None:
    """A heading with a sensor's name beside the quantity: "North bay: RH %", "T2 (°C)"."""
    tokens = [t for t in re.split(r"[\s,;:()\[\]_-]+", halfwidth(heading)) if t]
    ignored = f" {heading_key(heading)} "
    if any(f" {w} " in ignored for w, m in words_of("climate").items() if m == IGNORED):
        return Meant(IGNORED)
    unit = _sign(heading)
    tokens = [t for t in tokens if unit_key(t) not in {"°", "%", "°c", "°f", "degc", "degf"}]
    for size in range(min(3, len(tokens)), 0, -1):
        for start in range(len(tokens) - size + 1):
            words = " ".join(tokens[start : start + size])
            meaning = words_of("climate").get(heading_key(words))
            if meaning in MEASURED and len(words) > 1:
                return _named(meaning, unit, tokens[:start] + tokens[start + size :])
    return _numbered(tokens, unit)


def _named(meaning: str, sign: str | None, rest: list[str]) -> Meant:
    unit = sign if QUANTITY[meaning] == "temperature" else None
    if unit is None and rest and (unit := unit_in(rest[-1], meaning)):
        rest = rest[:-1]
    name = " ".join(t for t in rest if fold(t) not in PLAIN)
    return Meant(meaning, unit, name or None)


def _numbered(tokens: list[str], unit: str | None) -> Meant | None:
    """Short headings: "T1", "RH1" are of sensor 1; "North °C" is a temperature by its sign."""
    found = NUMBERED.fullmatch(fold(tokens[0])) if len(tokens) == 1 else None
    if found:
        meaning = "temp" if found["what"] in ("t", "temp") else "rh"
        return Meant(meaning, unit if meaning == "temp" else None, found["number"])
    return Meant("temp", unit, " ".join(tokens) or None) if unit else None


def _sign(heading: str) -> str | None:
    found = TEMPERATURE_SIGN.search(halfwidth(heading).replace("℃", "°C").replace("℉", "°F"))
    return None if found is None else ("degC" if found[0][-1].casefold() == "c" else "degF")
