"""Remarks: treatments, renamed units and keys of signs, as far as they are written."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache

from benchwalk.records.sheets.dates import ORDERS, Order, Parts, parts
from benchwalk.records.sheets.values import said, sign
from benchwalk.records.sheets.words import fold, means, rows, tidy
from benchwalk.reference import actives, taxa, taxon_names

NEAR = dt.timedelta(days=31)  # own choice: a day written without its year lies this near the walk


@dataclass(frozen=True)
class Done:
    """A treatment in a remark.

    Parameters
    ----------
    on : the day; none where the remark says it vaguely or cannot be read.
    what, active : as far as written.
    inferred : how the day was found where it is not written.
    """

    kind: str
    on: dt.date | None
    what: str | None
    active: str | None
    inferred: str | None = None
    everywhere: bool = False


@dataclass(frozen=True)
class Renamed:
    """A statement that a unit has another name; `on` as far as it is written."""

    old: str
    new: str
    on: dt.date | None


@dataclass(frozen=True)
class Material:
    """What was put out: a word for it, its active ingredient or species, how it is put out."""

    what: str
    active: str | None
    kind: str


def spaced(text: str) -> str:
    """A remark as folded words between single spaces, with a space at each end."""
    return f" {' '.join(re.sub(r'[^0-9a-z/]+', ' ', fold(text)).split())} "


@cache
def _phrases() -> tuple[tuple[str, str], ...]:
    """(phrase, meaning), longest first."""
    found = [(spaced(row["word"]), row["meaning"]) for row in rows("treatments")]
    return tuple(sorted(found, key=lambda pair: -len(pair[0])))


@cache
def _materials() -> tuple[tuple[str, Material], ...]:
    """(phrase, material), longest first: own words, active ingredients, natural enemies."""
    own = [
        (r["word"], Material(r["what"], r["active"] or None, r["kind"])) for r in rows("materials")
    ]
    active = [(name, Material(name, name, "spray")) for name in map(_bare, _active_names())]
    enemies = {t.taxon_key: t for t in taxa() if t.role == "beneficial" and t.parent_key}
    released = [
        (n.name, Material(n.name, enemies[n.taxon_key].scientific_name, "release"))
        for n in taxon_names()
        if n.taxon_key in enemies and n.language != "abbr"
    ]
    found = {spaced(word): m for word, m in (*released, *active, *own)}
    return tuple(sorted(found.items(), key=lambda pair: -len(pair[0])))


def _active_names() -> list[str]:
    return [a.name for a in actives()]


def _bare(name: str) -> str:
    return re.sub(r"\s*\(.*\)", "", name)


def _meanings(text: str) -> list[str]:
    """What the phrases of a remark mean, in no order; a longer phrase hides those inside it."""
    rest = spaced(text)
    found = []
    for phrase, meaning in _phrases():
        if phrase in rest:
            found.append(meaning)
            rest = rest.replace(phrase, " | ")
    return found


def material_in(text: str) -> Material | None:
    """The material a remark names; none where it names none."""
    words = spaced(text)
    return next((m for phrase, m in _materials() if phrase in words), None)


def treatments(text: str, walk: dt.date | None, order: Order | None) -> tuple[Done, ...] | None:
    """The treatments a remark tells of.

    Parameters
    ----------
    walk : the day of the row, which gives a day its year.
    order : how the file orders day and month.

    Returns
    -------
    Empty where the remark tells of none; none where it tells of one with neither day nor material.
    """
    meant = _meanings(text)
    kinds = [m for m in meant if m in ("spray", "drench", "release", "cultural")]
    material = material_in(text)
    days = days_in(text, walk, order)
    if "none" in meant or not (kinds or (material and days)):
        return ()
    when = _when(meant, days, walk)
    if material is None and "cultural" not in kinds and (not days or when == [(None, None)]):
        return None
    kind = _kind(kinds, material)
    what, active = (material.what, material.active) if material else (None, None)
    everywhere = "everywhere" in meant
    return tuple(Done(kind, on, what, active, how, everywhere) for on, how in when)


def _kind(kinds: list[str], material: Material | None) -> str:
    """Living material is released, whatever it is put out with; other words say it themselves."""
    if material is not None and material.kind == "release":
        return "release"
    if kinds:
        return kinds[0]
    return material.kind if material else "spray"


def _when(
    meant: list[str], days: list[dt.date], walk: dt.date | None
) -> list[tuple[dt.date | None, str | None]]:
    if days:
        return [(on, None) for on in days]
    if "vague" in meant or walk is None:
        return [(None, None)]
    for meaning in meant:
        name, _, number = meaning.partition(" ")
        if name == "day":
            return [(walk + dt.timedelta(days=int(number)), f"counted from the walk of {walk}")]
        if name == "weekday":
            ahead = (int(number) - walk.weekday()) % 7
            return [
                (walk + dt.timedelta(days=ahead), f"the first such day from the walk of {walk}")
            ]
    return [(walk, "no day is written: the day of the row")]


DATE = re.compile(
    r"(?<![0-9/.-])[0-9]{4}-[0-9]{1,2}-[0-9]{1,2}(?![0-9])"
    r"|(?<![0-9/.-])[0-9]{1,2}[./-][0-9]{1,2}(?:[./-](?:[0-9]{4}|[0-9]{2}))?(?![0-9/])\.?"
)


def days_in(text: str, walk: dt.date | None, order: Order | None) -> list[dt.date]:
    """The days written in a remark, those without a year in the year nearest to the walk."""
    found = [_day(m[0], walk, order) for m in DATE.finditer(text)]
    return [on for on in found if on is not None]


def _day(text: str, walk: dt.date | None, order: Order | None) -> dt.date | None:
    whole = parts(text)
    if isinstance(whole, dt.date):
        return whole
    if isinstance(whole, Parts):
        return _one(whole, order, walk)
    short = re.fullmatch(r"([0-9]{1,2})[./-]([0-9]{1,2})\.?", text)
    if short is None or walk is None:
        return None
    first, second = int(short[1]), int(short[2])
    order = "day first" if "." in text else order
    years = [
        on
        for year in (walk.year - 1, walk.year, walk.year + 1)
        if (on := _one(Parts(first, second, year), order, walk)) is not None
    ]
    return min(years, key=lambda on: abs(on - walk), default=None)


def _one(p: Parts, order: Order | None, walk: dt.date | None) -> dt.date | None:
    """The day in the file's order; where it has none, the one order that is near the walk."""
    if order is not None:
        return p.on(order)
    near = {
        on
        for o in ORDERS
        if (on := p.on(o)) is not None and walk is not None and abs(on - walk) <= NEAR
    }
    return near.pop() if len(near) == 1 else None


RENAMES = (
    r"(?P<new>.+?) is (?:the )?(?:old|former) (?P<old>[^,;.]+)",
    r"(?P<new>.+?) (?:was|formerly|used to be) (?:called )?(?P<old>[^,;.]+)",
    r"(?P<old>.+?) (?:is now|was renamed|renamed|now called|renumbered)(?: to| as)? "
    r"(?P<new>(?![0-9]+/)[^,;.]+)",
    r"(?P<new>.+?) es (?:el |la )?(?:antiguo|antigua|viejo|vieja|ex) (?P<old>[^,;.]+)",
    r"(?P<old>.+?) (?:ahora es|se llama ahora|ahora se llama) (?P<new>[^,;.]+)",
    r"(?P<new>.+?) ist (?:das |der |die )?(?:alte|alter|frühere|früher|ehemalige) "
    r"(?P<old>[^,;.]+)",
    r"(?P<old>.+?) heißt (?:jetzt|nun) (?P<new>[^,;.]+)",
)
IN_UNIT = (
    r"(?P<new>.+?)\s*\((?:the )?(?:old|formerly|former|was|ex|antes|früher|alt) (?P<old>.+?)\)"
)


def rename_in(text: str, walk: dt.date | None, order: Order | None) -> Renamed | None:
    """The rename that a remark states; none where it states none."""
    for pattern in RENAMES:
        found = re.match(pattern, tidy(text), re.IGNORECASE)
        if found:
            on = next(iter(days_in(text, walk, order)), None)
            return Renamed(_without_day(found["old"]), _without_day(found["new"]), on)
    return None


def _without_day(name: str) -> str:
    return tidy(re.sub(rf"\s+(?:on |am |el )?(?:{DATE.pattern}).*", "", name))


def unit_with_old_name(unit: str) -> tuple[str, str | None]:
    """A unit cell, and the old name it gives in brackets: "N3 (old North 3)"."""
    found = re.fullmatch(IN_UNIT, tidy(unit), re.IGNORECASE)
    return (found["new"], found["old"]) if found else (unit, None)


KEY = re.compile(
    r"[\"'“”]?(?P<sign>[^\s\"'“”=:]{1,12})[\"'“”]?\s*(?:=|means|bedeutet|significa|:)\s*(?P<is>.+)"
)


def keys_in(text: str) -> Iterator[tuple[str, str]]:
    """What a row says of signs: "- = not checked; tntc = 200+" -> sign and cell text."""
    for piece in re.split(r"[;\n]|,(?=\s*[\"'“”]?\S{1,12}[\"'“”]?\s*=)", text):
        found = KEY.fullmatch(tidy(re.sub(r"^(key|legend|clave|leyenda|Legende)\s*:", "", piece)))
        if found and _tells(found["sign"], found["is"]):
            yield sign(found["sign"]), found["is"]


def _tells(sign_: str, text: str) -> bool:
    """Whether the sign is one of a count cell, and the text says what a count cell could say."""
    is_sign = sign(sign_) == "-" or means(sign_) in ("zero", "not_looked", "present")
    return is_sign and said(text).how != "rejected"


def kept_key(answers: Mapping[str, str]) -> dict[str, str]:
    """What a person answered about "-"."""
    answer = answers.get("dash")
    if answer is None:
        return {}
    text = " ".join(answer.replace("_", " ").split())
    return {"-": text} if said(text).how in ("counted", "not_looked") else {}
