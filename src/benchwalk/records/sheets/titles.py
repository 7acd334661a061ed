"""What stands above a table, or in the name of its page, and holds for all of its rows."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from benchwalk.records.sheets.dates import MONTHS, Parts, parts
from benchwalk.records.sheets.headings import listed, method_of
from benchwalk.records.sheets.names import crop_of
from benchwalk.records.sheets.page import Page, Row, Spot
from benchwalk.records.sheets.words import fold, tidy

# what a title can say once for a whole table
SAID_ONCE = ("date", "date_out", "house", "unit", "crop", "scout", "plants", "station", "method")
LABELLED = re.compile(r"\s*([^:=]{2,40}?)\s*[:=]\s*(\S.*)")
WEEK_OF = re.compile(r"(?:week of|week starting|semana del?|woche vom)\s+(.+)", re.IGNORECASE)
YEAR = re.compile(r"(?<![0-9./-])(?:19[89][0-9]|20[0-9][0-9])(?![0-9./-])")
NAMELESS = re.compile(
    r"(?:sheet|hoja|tabelle|blatt|data|datos|daten|counts?|conteos?|zahlungen|scouting|log|records?"
    r"|registros?|week|wk|semana|woche|kw|book|libro|form|table|tabla|export|import|monitoring"
    r"|monitoreo|pests?|plagas?|schadlinge|season|temporada|saison|all|todo|alle|cards?|plants?"
    r"|tarjetas?|plantas?|karten|pflanzen)?[ _-]*[0-9()]*",
)
SUMMARY = frozenset(
    [
        "season",
        "summary",
        "totals",
        "total",
        "overview",
        "dashboard",
        "charts",
        "chart",
        "graph",
        "graphs",
        "resumen",
        "totales",
        "grafico",
        "graficos",
        "temporada",
        "zusammenfassung",
        "ubersicht",
        "summen",
        "diagramm",
    ]
)


@dataclass(frozen=True)
class Told:
    """Something said once for a table: its text, and where (none: in the page's name)."""

    text: str
    spot: Spot | None


def labelled(rows: Iterable[tuple[int, Row]]) -> dict[str, Told]:
    """What titles say with a label: "Scout: B. H.", or a label and its value in two cells."""
    found: dict[str, Told] = {}
    for number, row in rows:
        for index, text in enumerate(row):
            for meaning, value in (*_said(text), *place_in(text)):
                found.setdefault(meaning, Told(value, (number, index)))
        for (_, label), (index, value) in _pairs(row):
            means = listed(label.rstrip(" :="))
            if means in SAID_ONCE and listed(value) is None:
                found.setdefault(str(means), Told(tidy(value), (number, index)))
    return found


def _said(text: str) -> Iterable[tuple[str, str]]:
    for piece in re.split(r"\s{2,}|[;|\n]", text):
        if (week := WEEK_OF.fullmatch(piece.strip())) and parts(week[1]) is not None:
            yield "date", tidy(week[1])
        if found := LABELLED.fullmatch(piece):
            meaning = listed(found[1])
            if meaning in SAID_ONCE:
                yield str(meaning), tidy(found[2])


def place_in(text: str) -> Iterable[tuple[str, str]]:
    """A title that is a place by its first word and a number or letter: "House 1", "Mesa 3 B"."""
    words = tidy(text).split()
    meaning = listed(words[0]) if 1 < len(words) < 4 else None
    if meaning in ("house", "unit") and all(len(w) < 4 for w in words[1:]):
        yield str(meaning), " ".join(words)


def date_in(rows: Iterable[tuple[int, Row]]) -> Told | None:
    """The one day that titles name by itself; none where they name none, or several."""
    found = {
        tidy(text): Told(tidy(text), (number, index))
        for number, row in rows
        for index, text in enumerate(row)
        if isinstance(parts(text), dt.date | Parts)
    }
    return next(iter(found.values())) if len(found) == 1 else None


def is_house(name: str) -> bool:
    """Whether a name is that of a house: "House East", "GH 2", "Nave3"."""
    if nameless(name):
        return False
    words = name.split()
    word = re.sub(r"[0-9 _-]+$", "", name).strip()
    first = len(words) < 4 and listed(words[0]) == "house"
    return first or listed(word) == "house"


def _pairs(row: Row) -> Iterable[tuple[tuple[int, str], tuple[int, str]]]:
    filled = [(n, c) for n, c in enumerate(row) if c.strip()]
    return pairwise(filled)


def nameless(name: str) -> bool:
    """Whether a page's name says nothing of a place: "Sheet1", "2024", "May", "Counts"."""
    word = fold(name)
    return not word or bool(NAMELESS.fullmatch(word)) or word.split()[0] in MONTHS


def is_summary(name: str) -> bool:
    """Whether a page's name says that it adds up other pages."""
    return bool(SUMMARY & set(fold(name).split()))


def unit_and_crop(page: Page, titles: Sequence[tuple[int, Row]]) -> tuple[Told | None, Told | None]:
    """The unit and the crop that the page's name and its titles name, as far as they do.

    "Cal A1   calibrachoa" on the page "Cal A1" is that unit and that crop; without such a page, a
    title of a name and a crop is both.
    """
    name = "" if page.name is None or nameless(page.name) else tidy(page.name)
    unit = Told(name, None) if name and parts(name) is None else None
    for number, row in titles:
        for index, text in enumerate(row):
            spot, title = (number, index), tidy(text)
            if not title or LABELLED.fullmatch(title):
                continue
            if unit and fold(title).startswith(fold(unit.text)):
                rest = title[len(unit.text) :].strip(" ,;-–()")
                return Told(unit.text, spot), Told(rest, spot) if crop_of(rest) else None
            found = _name_and_crop(title)
            if found is not None:
                name, crop = found
                unit = unit or (Told(name, spot) if name and not nameless(name) else None)
                return unit, Told(crop, spot)
    return unit, None


def _name_and_crop(title: str) -> tuple[str, str] | None:
    """A title cut into a name and a crop that stands at its end or in brackets."""
    words = re.split(r"[\s,;()–-]+", title.strip(" ()"))
    for size in (3, 2, 1):
        crop = " ".join(words[-size:])
        if size <= len(words) and crop_of(crop):
            return tidy(" ".join(words[:-size])).strip(" -"), crop
    return None


def method_in(texts: Iterable[str]) -> str | None:
    """The method that a title or a page's name names: "Yellow cards, 2024"; none where none."""
    for text in texts:
        words = re.split(r"[^0-9a-z]+", fold(text))
        for size in (3, 2, 1):
            for start in range(len(words) - size + 1):
                phrase = " ".join(words[start : start + size])
                method = method_of(phrase) if len(phrase) > 3 else None
                if method is not None and method.endswith("card"):
                    return method
    return None


def years_in(texts: Iterable[str]) -> set[int]:
    """The years that titles name by themselves: "Mondays, 2024"."""
    return {int(found) for text in texts for found in YEAR.findall(text)}
