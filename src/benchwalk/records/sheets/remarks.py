"""Remarks: treatments, renamed units and keys of signs, as far as they are written."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import pairwise

from benchwalk.records.sheets.dates import MONTHS, ORDERS, Order, Parts, habit, parts
from benchwalk.records.sheets.values import said, sign
from benchwalk.records.sheets.words import MANY, fold, means, rows, tidy
from benchwalk.reference import actives, taxa, taxon_names

NO_DAY = "no day is written: the day of the row"
NEAR = dt.timedelta(days=14)  # own choice: of two orders, the one this near the walk is meant


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
    active = [(name, Material(name, name, "spray")) for name in (bare(a.name) for a in actives())]
    enemies = {t.taxon_key: t for t in taxa() if t.role == "beneficial" and t.parent_key}
    released = [
        (n.name, Material(n.name, enemies[n.taxon_key].scientific_name, "release"))
        for n in taxon_names()
        if n.taxon_key in enemies and n.language != "abbr"
    ]
    found = {spaced(word): m for word, m in (*released, *active, *own)}
    return tuple(sorted(found.items(), key=lambda pair: -len(pair[0])))


def bare(name: str) -> str:
    """The name of an active ingredient without what stands in brackets behind it."""
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
    Empty where the remark tells of none; none where it tells of one with neither day nor material,
    or asks whether there was one.
    """
    works = _works(text, walk, order)
    if not works:
        return ()
    if ASKED.search(text):
        return None
    everywhere = "everywhere" in _meanings(text)
    done = [
        Done(w.kind, on, *_named(w.material), how, everywhere)
        for w in works
        if not w.incomplete
        for on, how in _when(w, walk, text)
    ]
    return tuple(dict.fromkeys(done)) or None


def is_everywhere(unit: str) -> bool:
    """Whether a unit, with its house or without, means every unit there: "all", "all bays"."""
    name = unit.rpartition(" / ")[2]
    alone = fold(name) in ("all", "todo", "todos", "todas", "alle")
    return alone or "everywhere" in _meanings(name)


@dataclass
class Work:
    """What a remark says of one treatment, gathered from one clause or several."""

    meant: list[str]
    material: Material | None
    days: list[dt.date]
    dated: bool

    @property
    def kinds(self) -> list[str]:
        """What was done, as far as its verbs say it: the narrower word first."""
        return [k for k in KINDS if k in self.meant]

    @property
    def kind(self) -> str:
        """Living material is released, whatever it is put out with; else the verbs say it."""
        if self.material is not None and self.material.kind == "release":
            return "release"
        worked = [k for k in self.kinds if k != "cultural" or self.material is None]
        if worked:
            return worked[0]
        return self.material.kind if self.material else (self.kinds or ["spray"])[0]

    @property
    def incomplete(self) -> bool:
        """Whether neither a day nor a material is told."""
        day = bool(self.days) or any(m.startswith(("day ", "weekday ")) for m in self.meant)
        return self.material is None and "cultural" not in self.meant and not day

    def goes_with(self, other: Work) -> bool:
        """Whether another clause can be of the same treatment."""
        one_kind = not (self.kinds and other.kinds) or bool({*self.kinds} & {*other.kinds})
        materials = {_named(w.material) for w in (self, other) if w.material is not None}
        return one_kind and len({active or what for what, active in materials}) < 2


ASKED = re.compile(r"\?\s*[).]?\s*$")
KINDS = ("drench", "release", "spray", "cultural")
CLAUSE = re.compile(
    r";|,|\s[+&/]\s|(?<![0-9])(?<!\b[A-Za-z])\.\s|\b(?:and|then|y|luego|und|dann)\b", re.IGNORECASE
)
# words that may stand beside a day or a material without telling of anything else
SMALL = re.compile(
    "with|w|of|the|at|on|in|by|a|all|con|de|del|el|la|en|mit|am|auf|im|an|m2|l|ml|g|kg|gal"
    "|dose|rate|dosis|again|tank|mix|mixed|[0-9/]+.{0,2}"
)


def _named(material: Material | None) -> tuple[str | None, str | None]:
    return (material.what, material.active) if material else (None, None)


def _works(text: str, walk: dt.date | None, order: Order | None) -> list[Work]:
    """The clauses of a remark put together: a day, a verb and a material each said once."""
    clauses = [c for c in CLAUSE.split(text) if c.strip()]
    planned = any("none" in _meanings(c) for c in clauses)
    works: list[Work] = []
    for clause in clauses:
        work = _work(clause, walk, order)
        if "none" in work.meant or not (work.kinds or _says_no_more(clause, work)):
            continue
        if works and works[-1].goes_with(work):
            last = works[-1]
            last.meant += work.meant
            last.days += work.days
            last.dated |= work.dated
            last.material = last.material or work.material
        else:
            works.append(work)
    _share(works)
    told = [w for w in works if w.kinds or (w.material and w.dated)]
    return [w for w in told if w.kinds or not planned]


def _work(clause: str, walk: dt.date | None, order: Order | None) -> Work:
    days, dated = days_in(clause, walk, order), DATE.search(clause) is not None
    return Work(_meanings(clause), material_in(clause), days, dated)


def _says_no_more(clause: str, work: Work) -> bool:
    """Whether a clause without a verb is a day, a material or both, and nothing else."""
    if work.material and work.dated:
        return True
    rest = spaced(DATE.sub(" ", clause))
    for phrase, _ in (*_phrases(), *(_materials() if work.material else ())):
        rest = rest.replace(phrase, " ")
    words = [w for w in rest.split() if not SMALL.fullmatch(w)]
    return not words and bool(work.material or work.dated or work.meant)


def _share(works: list[Work]) -> None:
    """A day or verb said once holds for the materials beside it: "soap and spinosad 6/3"."""
    for before, after in pairwise(works):
        if not after.kinds:
            after.meant += before.kinds
        if not after.dated:
            after.days, after.dated = list(before.days), before.dated
    for before, after in reversed(list(pairwise(works))):
        if not before.dated:
            before.days, before.dated = list(after.days), after.dated


def _when(work: Work, walk: dt.date | None, text: str) -> list[tuple[dt.date | None, str | None]]:
    if work.days:
        return [(on, None) for on in work.days]
    if work.dated or walk is None or "vague" in _meanings(text):
        return [(None, None)]
    for meaning in work.meant:
        name, _, number = meaning.partition(" ")
        if name == "day":
            return [(walk + dt.timedelta(days=int(number)), f"counted from the walk of {walk}")]
        if name == "weekday":
            return [_weekday(int(number), walk, text)]
    return [(walk, NO_DAY)]


def _weekday(number: int, walk: dt.date, text: str) -> tuple[dt.date, str]:
    if re.search(r"\b(?:last|pasad[oa]|letzte[nr]?)\b", text, re.IGNORECASE):
        behind = (walk.weekday() - number - 1) % 7 + 1
        return walk - dt.timedelta(days=behind), f"the last such day before the walk of {walk}"
    ahead = (number - walk.weekday()) % 7
    return walk + dt.timedelta(days=ahead), f"the first such day from the walk of {walk}"


MONTH = rf"(?:{'|'.join(sorted(MONTHS, key=len, reverse=True))})\b\.?"
DATE = re.compile(
    r"(?<![0-9/.-])[0-9]{4}-[0-9]{1,2}-[0-9]{1,2}(?![0-9])"
    r"|(?<![0-9/.-])[0-9]{1,2}[./-][0-9]{1,2}(?:[./-](?:[0-9]{4}|[0-9]{2}))?(?![0-9/])\.?"
    r"(?!\s*(?:plants?|plantas?|pflanzen?|pl|leaves|hojas|pots|cards?|squares|%)\b)"
    rf"|(?<![0-9/.-])[0-9]{{1,2}}(?:st|nd|rd|th|\.)?[ -]?(?:de )?{MONTH}(?:[ -](?:de )?[0-9]{{4}})?"
    rf"|\b{MONTH}[ -]?[0-9]{{1,2}}(?:st|nd|rd|th)?\b(?:,? [0-9]{{4}})?",
    re.IGNORECASE,
)


def days_in(text: str, walk: dt.date | None, order: Order | None) -> list[dt.date]:
    """The days written in a remark, those without a year in the year nearest to the walk."""
    found = [_day(m[0], walk, order) for m in DATE.finditer(text)]
    return [on for on in found if on is not None]


def order_in(texts: Iterable[str]) -> Order | None:
    """The order of day and month that the days written in remarks settle; none where none does."""
    short = (re.fullmatch(r"([0-9]{1,2}/[0-9]{1,2})(/[0-9]+)?", m[0]) for m in _dates(texts))
    # 2000 had a 29 February; the year is not asked about here
    return habit(f"{m[1]}/2000" for m in short if m).order


def _dates(texts: Iterable[str]) -> Iterator[re.Match[str]]:
    return (found for text in texts for found in DATE.finditer(text))


def _day(text: str, walk: dt.date | None, order: Order | None) -> dt.date | None:
    whole = parts(text)
    if isinstance(whole, dt.date):
        return whole
    if isinstance(whole, Parts):
        return _one(whole, order, walk)
    if walk is None:
        return None
    years = (_in_year(text, year, order, walk) for year in range(walk.year - 1, walk.year + 2))
    return min((on for on in years if on is not None), key=lambda on: abs(on - walk), default=None)


def _in_year(text: str, year: int, order: Order | None, walk: dt.date) -> dt.date | None:
    """A day written without a year, in a year."""
    if short := re.fullmatch(r"([0-9]{1,2})[./-]([0-9]{1,2})\.?", text):
        order = "day first" if "." in text.rstrip(".") else order
        return _one(Parts(int(short[1]), int(short[2]), year), order, walk)
    apart = re.sub(r"(?<=[0-9])\.?(?=[^\W\d])|(?<=[^\W\d])\.?(?=[0-9])", " ", text)
    named = parts(f"{re.sub(r'(?<=[0-9]) (?=st|nd|rd|th)', '', apart)} {year}")
    return named if isinstance(named, dt.date) else None


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
    r"(?P<new>)(?:was|formerly|used to be|old name|antes|früher)(?: called)?:? (?P<old>[^,;.]+)",
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


def is_this(name: str) -> bool:
    """Whether a remark speaks of the unit of its own row."""
    return fold(name) in ("", "this", "this one", "this bench", "this bay", "este", "esta", "dies")


def _without_day(name: str) -> str:
    return tidy(re.sub(rf"\s+(?:on |am |el )?(?:{DATE.pattern}).*", "", name))


@lru_cache(MANY)
def unit_with_old_name(unit: str) -> tuple[str, str | None]:
    """A unit cell, and the old name it gives in brackets: "N3 (old North 3)"."""
    found = re.fullmatch(IN_UNIT, tidy(unit), re.IGNORECASE)
    return (found["new"], found["old"]) if found else (unit, None)


KEY = re.compile(
    r"(?:the |a |el |la |un |ein )?[\"'“”(]?(?P<sign>[^\s\"'“”=:()]{1,12})[\"'“”)]?"
    r"\s*(?:=|:|\b(?:means|is|stands for|bedeutet|heißt|significa|quiere decir)\b|\s)\s*(?P<is>.+)",
    re.IGNORECASE,
)
KEY_TITLE = re.compile(
    r"^(?:key|legend|clave|leyenda|legende|note|nota)\s*[:.-]\s*(?=\S)", re.IGNORECASE
)
SHORT_SIGN = 3  # own choice: a longer sign is a word, and means itself
DASH_WORDS = frozenset({"dash", "hyphen", "guion", "raya", "strich"})


def keys_in(text: str) -> Iterator[tuple[str, str]]:
    """What a row says of signs: "- = not checked; tntc = 200+" -> sign and cell text."""
    for piece in re.split(r"[;\n]|,(?=\s*[\"'“”(]?\S{1,12}[\"'“”)]?\s*[=:])", text):
        found = KEY.fullmatch(KEY_TITLE.sub("", tidy(piece)))
        told = found and _told(found["sign"], found["is"])
        if found and told:
            yield ("-" if fold(found["sign"]) in DASH_WORDS else sign(found["sign"])), told


def _told(sign_: str, text: str) -> str | None:
    """What a count cell could say instead of a sign; none where the text does not tell it.

    A word that a cell can say by itself keeps its meaning, unless it is one of those that stand
    for a number nobody wrote. A figure that stands for a word ("1 = few") is no count.
    """
    is_dash = sign(sign_) == "-" or fold(sign_) in DASH_WORDS
    if re.fullmatch("[1-9]", sign_):
        return text if means(text.split()[0]) == "rating" else None
    if not is_dash and means(sign_) is None and len(sign_) > SHORT_SIGN:
        return None
    if said(text).how != "rejected":
        return text
    return _word_in(text) if is_dash or means(sign_) is None else None


def _word_in(text: str) -> str | None:
    """The one word of a cell in a longer text: "not checked that day"; none where two differ."""
    rest, found = spaced(text), {}
    for row in sorted(rows("cells"), key=lambda row: -len(row["word"])):
        word = spaced(row["word"])
        if len(row["word"]) > 2 and row["meaning"] != "totals" and word in rest:
            rest = rest.replace(word, " | ")
            found[row["meaning"]] = row["word"]
    return next(iter(found.values())) if len(found) == 1 else None


IN_HEADING = re.compile(r"[(\[]([^()\[\]=]{1,12}=[^()\[\]]+)[)\]]")


@lru_cache(MANY)
def heading_and_key(heading: str) -> tuple[str, Mapping[str, str]]:
    """A heading without the key in it, and the key: "Thrips (- = none)"; empty where it has none.

    A letter that stands for a number is no key: "(n=10)" tells how many were looked at.
    """
    found = IN_HEADING.search(heading)
    told = dict(keys_in(found[1])) if found else {}
    if not found or not told or any(s.isalnum() and t[:1].isdigit() for s, t in told.items()):
        return heading, {}
    return f"{heading[: found.start()]} {heading[found.end() :]}", told


def kept_key(answers: Mapping[str, str]) -> dict[str, str]:
    """What a person answered about "-"."""
    answer = answers.get("dash")
    if answer is None:
        return {}
    text = " ".join(answer.replace("_", " ").split())
    return {"-": text} if said(text).how in ("counted", "not_looked") else {}
