"""What was said of a record, rev by rev, in words: fields, what changed, why it is void."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from benchwalk.catalogue import say, strings
from benchwalk.records.queries.changes import CORRECTED, VOID, Asked, Asking, Change
from benchwalk.records.queries.looks import Said
from benchwalk.report.figures import day, moment, shown
from benchwalk.report.record_words import coded, kind_words
from benchwalk.report.row_words import Filter, choices

CODES = ("taxon", "stage", "method")  # what tells lines apart
HIDDEN = ("id",)
HIDDEN_IN_LINES = (*CODES, "n")
#: fields that hold codes; words of a person stand as they were written
CODED = (
    *("kind", "state", "why", "since", "counted", "flag_mark", "how", "depth", "precision"),
    *("sense", "rule", "role", "cause", "confidence", "status", "per", "phase", "effect"),
    *("reason", "source", "colour", "part", "item", "cleanliness"),
)
#: what is said first: where, of which walk, by whom, when, then what; a body has its fields by name
FIRST = (
    *("name", "house_id", "unit_id", "station_id", "card_id", "planting_id", "walk_id", "flag_id"),
    *("kind", "walk_on", "moved_on", "scout_id", "applicator_id", "device_id"),
    *("taxon", "stage", "crop", "method", "what", "active", "value", "per", "sense"),
    *("started_at", "ended_at", "from_on", "until_on", "hung_at", "taken_at", "seen_at", "at"),
    *("phase", "position", "plants", "items", "number"),
)
OWNERS = ("observation_id", "application_id", "planting_id", "walk_id", "log_id")
FIELDS_MOST = 3  # of a row in the list; own choice, the record has them all
INSTANT = re.compile(r"\d{4}-\d\d-\d\d[ T]\d\d:\d\d.*[+-]\d\d:\d\d")
DAY = re.compile(r"\d{4}-\d\d-\d\d")


@dataclass(frozen=True)
class Field:
    """One thing that was said; `before` is None where the rev before said the same or nothing.

    `record` is the id of the record that was named, "" where none was.
    """

    name: str
    said: str
    before: str | None
    record: str = ""


@dataclass(frozen=True)
class RevWords:
    """One rev, said; of a later one only what it changed."""

    title: str
    void: bool
    who: str
    when: str
    fields: tuple[Field, ...]

    @property
    def changes(self) -> bool:
        """Whether something is said of it that was said otherwise before."""
        return any(field.before is not None for field in self.fields)


@dataclass(frozen=True)
class ChangeWords:
    """A correction or a void among others; `where` is its unit, `more` fields are not shown."""

    id: str
    seq: int
    what: str
    where: str
    void: bool
    title: str
    who: str
    when: str
    fields: tuple[Field, ...]
    more: int


@dataclass(frozen=True)
class Value:
    """A value in words, and the record that it names by its id."""

    text: str
    record: str = ""


@dataclass(frozen=True)
class _Reading:
    """How the columns and values of a record are said; ``records`` are ids that have a page."""

    names: Mapping[str, str]
    zone: ZoneInfo
    locale: str
    records: Collection[str] = ()

    def field(self, name: str) -> str:
        """The word for a column; its own name where the catalogue has none."""
        key = f"page.field.{name}"
        return say(key, self.locale) if key in strings() else shown(name.replace("_", " "))

    def said(self, name: str, value: object) -> Value:
        """A value of a field, with the record it names."""
        named = value if isinstance(value, str) and value in self.records else ""
        return Value(self.value(value, name), named)

    def value(self, value: object, field: str = "") -> str:
        """A value in words: yes and no, an instant on the operation's clock, a name for an id.

        A document is said part by part.
        """
        if isinstance(value, bool):
            return say("page.yes" if value else "page.no", self.locale)
        if isinstance(value, Mapping):
            said = ((shown(str(name)), self.value(held)) for name, held in value.items())
            return ", ".join(f"{name}: {held}" for name, held in said)
        if isinstance(value, list):
            return ", ".join(self.value(one) for one in value)
        text = shown(str(value))
        if field in CODED and (word := coded(field, text, self.locale)):
            return word
        if text in self.names:
            return self.names[text]
        if field.endswith("_on") and DAY.fullmatch(text):
            return day(dt.date.fromisoformat(text), self.locale, year=True)
        if INSTANT.fullmatch(text):
            return moment(dt.datetime.fromisoformat(text), self.zone, self.locale)
        return text


def change_words(
    change: Change, zone: ZoneInfo, names: Mapping[str, str], locale: str
) -> ChangeWords:
    """A row of the list of what was corrected or taken back, with what it changed."""
    said, fields = change.said, tuple(_changes(change, _Reading(names, zone, locale)))
    body = json.loads(said.body)
    places = (names.get(str(body.get(field)), "") for field in ("unit_id", "station_id"))
    return ChangeWords(
        id=str(said.id),
        seq=said.seq,
        what=kind_words(said.kind, locale, body),
        where=next(filter(None, places), "") or shown(str(body.get("name", ""))),
        void=said.void_reason is not None,
        title=_title(said, locale),
        who=_who(said, locale),
        when=moment(said.seen_at, zone, locale),
        fields=fields[:FIELDS_MOST],
        more=len(fields[FIELDS_MOST:]),
    )


def _changes(change: Change, read: _Reading) -> Iterator[Field]:
    """What a correction changed; a void changes nothing of what was said."""
    if change.said.void_reason is None and change.before is not None:
        before, now = (
            _fields(json.loads(body), read) for body in (change.before, change.said.body)
        )
        yield from _changed(before, now, read.locale)


def change_filters(asking: Asking, asked: Asked, locale: str) -> tuple[Filter, ...]:
    """What of the changes can be asked for; "" is everything."""
    held = {
        "kind": [(kind_words(kind, locale), kind) for kind in asking.kinds],
        "by": [(shown(name), str(person)) for person, name in asking.people],
        "what": [(say(f"page.only_{what}", locale), what) for what in (CORRECTED, VOID)],
    }
    chosen = {"kind": asked.kind, "by": str(asked.by or ""), "what": asked.what}
    return tuple(
        Filter(
            name,
            say(f"page.ledger_{name}", locale),
            choices(say(f"page.ledger_every_{name}", locale), sorted(pairs), chosen[name]),
        )
        for name, pairs in held.items()
    )


def history_words(
    history: Sequence[Said],
    zone: ZoneInfo,
    names: Mapping[str, str],
    locale: str,
    records: Collection[str] = (),
) -> tuple[RevWords, ...]:
    """Every rev of a record, the newest first.

    Parameters
    ----------
    names : words for ids and codes.
    records : ids of records that can be opened.
    """
    read = _Reading(names, zone, locale, records)
    bodies = [_fields(json.loads(said.body), read) for said in history]
    words = [
        RevWords(
            title=_title(said, locale),
            void=said.void_reason is not None,
            who=_who(said, locale),
            when=moment(said.seen_at, zone, locale),
            fields=tuple(
                _all(bodies[n])
                if n == 0 or said.void_reason is not None
                else _changed(bodies[n - 1], bodies[n], locale)
            ),
        )
        for n, said in enumerate(history)
    ]
    return tuple(reversed(words))


def body_words(
    body: Mapping[str, Any], zone: ZoneInfo, names: Mapping[str, str], locale: str
) -> dict[str, str]:
    """What a body says, by the words for its fields."""
    read = _fields(body, _Reading(names, zone, locale))
    return {name: value.text for name, value in read.items()}


def _title(said: Said, locale: str) -> str:
    if said.void_reason is not None:
        return say("page.rev_void", locale, rev=said.rev, reason=shown(said.void_reason))
    return say("page.rev", locale, rev=said.rev)


def _who(said: Said, locale: str) -> str:
    who = [say("page.not_said", locale) if said.by is None else shown(said.by)]
    if said.typed_by is not None:
        who.append(say("page.typed_by", locale, person=shown(said.typed_by)))
    return ", ".join([*who, *([shown(said.device)] if said.device is not None else [])])


def _fields(
    body: Mapping[str, Any], read: _Reading, under: str = "", method: str = ""
) -> dict[str, Value]:
    """What a body says, lines inside it by what tells them apart.

    A later rev repeats in its lines what they are a part of, the first does not: both read alike.
    """
    held: dict[str, Value] = {}
    # a card has no plants: the record keeps 0 there, and it is no count of anything
    of_card = ("plants",) if body.get("kind") == "reading" else ()
    hidden = {*HIDDEN, *(HIDDEN_IN_LINES if under else ()), *of_card}
    for name, value in sorted(body.items(), key=_place):
        if isinstance(value, list):
            for n, line in enumerate(value, start=1):
                way = str(line.get("method", method))
                held |= _fields(line, read, f"{_called(name, line, way, n, read)}: ", way)
        elif name not in hidden and not (under and name in OWNERS):
            held[f"{under}{read.field(name)}"] = read.said(name, value)
    return held


def _place(field: tuple[str, object]) -> tuple[int, str]:
    name, _ = field
    return (FIRST.index(name) if name in FIRST else len(FIRST), name)


def _called(name: str, line: Mapping[str, Any], way: str, n: int, read: _Reading) -> str:
    codes = [str(line[code]) for code in ("taxon", "stage") if code in line]
    codes += [way] if way else []
    said = ", ".join(read.names.get(code, shown(code)) for code in codes)
    return said or f"{read.field(name)} {n}"


def _all(now: Mapping[str, Value]) -> Iterator[Field]:
    """All that a rev says: of the first one, and of one that takes it back."""
    for name, said in now.items():
        yield Field(name, said.text, None, said.record)


def _changed(before: Mapping[str, Value], now: Mapping[str, Value], locale: str) -> Iterator[Field]:
    nothing = Value(say("page.not_said", locale))
    for name in dict.fromkeys((*before, *now)):
        said, was = now.get(name, nothing), before.get(name, nothing)
        if said != was:
            yield Field(name, said.text, was.text, said.record)
