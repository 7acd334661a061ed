"""The looks behind a number in words: who, when, which plant, what was counted and corrected."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator
from dataclasses import dataclass

from benchwalk.catalogue import say
from benchwalk.records.queries.looks import Look, Said
from benchwalk.report.effort_words import counted
from benchwalk.report.figures import capital, day, figure, shown
from benchwalk.report.keys import number_key
from benchwalk.report.names import Names
from benchwalk.report.row_words import Choice, choices, moment
from benchwalk.summarise.looks import Behind
from benchwalk.summarise.series import SAMPLE


@dataclass(frozen=True)
class LookWords:
    """One look, said; `corrected` is "" for one that stands as it was first said."""

    id: str
    when: str
    received: str
    who: str
    typed_by: str
    where: str
    crop: str
    effort: str
    count: str
    note: str
    corrected: str


@dataclass(frozen=True)
class VoidWords:
    """A look that was taken back: to be read through the line; why, by whom and when."""

    id: str
    what: str
    reason: str
    by: str


@dataclass(frozen=True)
class BehindWords:
    """The looks behind a number, said. `number` is the number they make."""

    operation: str
    unit: str
    unit_id: str
    title: str
    key: str
    number: str
    lead: str
    shown: str
    people: tuple[Choice, ...]
    rows: tuple[LookWords, ...]
    voided: tuple[VoidWords, ...]


def behind_words(
    behind: Behind, locale: str = "en", *, by: str = "", found: bool = False
) -> BehindWords:
    """The looks in words; ``by`` keeps to one person, ``found`` to looks that found any."""
    names, s = Names(behind.known, locale), behind.series
    kept = [look for look in behind.looks if by in ("", look.by) and (not found or _found(look))]
    pest, unit = capital(names.series(s.key)), names.place(behind.unit)
    number = counted(names, s)
    lead = say(
        "page.looks_lead",
        locale,
        pest=pest,
        method=names.method(s.key.method),
        date=day(s.on, locale, year=True),
    )
    return BehindWords(
        operation=shown(behind.known.operation),
        unit=unit,
        unit_id=str(behind.unit.id),
        title=say("page.looks_title", locale, pest=pest, unit=unit),
        key=number_key(s.key, "counted"),
        number=number,
        lead=lead if s.why == SAMPLE else f"{lead} {_why(s.why, locale)}",
        shown=_shown(locale, len(kept), len(behind.looks)),
        people=choices(say("page.every_person", locale), _people(behind), by),
        rows=tuple(_look(names, behind, look) for look in kept),
        voided=tuple(_void(names, said) for said in behind.voided),
    )


def _why(why: str, locale: str) -> str:
    """How the plants were chosen, where it was not at random."""
    return say("page.looks_why", locale, why=say(f"week.why.{why}", locale))


def _found(look: Look) -> bool:
    return look.how == "present" or any((look.number, look.mean, look.infested))


def _shown(locale: str, n: int, total: int) -> str:
    if n == total:
        return say("page.looks_of", locale, n=total)
    return say("page.looks_shown", locale, n=n, total=total)


def _people(behind: Behind) -> list[tuple[str, str]]:
    people = sorted({look.by for look in behind.looks if look.by is not None})
    return [(shown(person), person) for person in people]


def _look(names: Names, behind: Behind, look: Look) -> LookWords:
    locale = names.locale
    received = moment(look.received_at, names)
    if look.device is not None:
        said = say("page.by_phone", locale, phone=shown(look.device), at=received)
    else:
        said = say("page.received", locale, at=received)
    return LookWords(
        id=str(look.id),
        when=moment(look.seen_at, names),
        received=said,
        who=say("page.not_said", locale) if look.by is None else shown(look.by),
        typed_by="" if look.typed_by is None else _typed(look.typed_by, locale),
        where=_where(names, look),
        crop="" if look.crop is None else names.crop(look.crop),
        effort=", ".join(_effort(names, look)),
        count=_count(names, look, behind.counts(look)),
        note="" if look.note is None else shown(look.note),
        corrected=say("page.corrected", locale, rev=look.rev) if look.rev > 1 else "",
    )


def _typed(person: str, locale: str) -> str:
    return say("page.typed_by", locale, person=shown(person))


def _where(names: Names, look: Look) -> str:
    if look.card is not None:
        return say("page.card_at", names.locale, card=shown(look.card))
    if look.position is None:
        return say("page.not_said", names.locale)
    return say("page.plant_at", names.locale, position=shown(look.position))


def _effort(names: Names, look: Look) -> Iterator[str]:
    locale = names.locale
    if look.kind == "look":
        known = look.plants is not None
        yield say("page.pooled", locale, n=look.plants) if known else say("page.not_said", locale)
    if look.items is not None and look.of_items is not None:
        yield say("page.squares", locale, n=look.items, of=look.of_items)
    elif look.items is not None and look.kind == "look":
        method = names.known.methods[look.method]
        yield say("page.items", locale, item=names.item(method.item), n=look.items)
    if look.card_state not in (None, "ok"):
        yield say("page.card_state", locale, state=say(f"page.state_{look.card_state}", locale))
    if look.counted == "all":
        yield say("page.all_since_hung", locale)


def _count(names: Names, look: Look, counts: int | None) -> str:
    """The number with the word for what it is: an absent one is never a 0."""
    locale = names.locale
    if look.number is not None and counts is None:
        return say("page.count_fell", locale, all=look.number)
    if look.number is not None and counts != look.number:
        return say("page.count_fresh", locale, fresh=counts, all=look.number)
    if look.how is None:
        return say("page.count_none_at_all", locale)
    if look.how == "present":
        return say("page.count_present", locale)
    if look.how == "density" and look.mean is not None:
        return say("page.count_mean", locale, n=figure(look.mean))
    if look.how == "at_least":
        return say("page.count_at_least", locale, n=look.number)
    return say("page.count_none", locale) if look.number == 0 else str(look.number)


def _void(names: Names, said: Said) -> VoidWords:
    """The look by its own time and place; who took it back, and when, beside the reason."""
    body = json.loads(said.body)
    seen, place = dt.datetime.fromisoformat(body["seen_at"]), body.get("position")
    parts = [moment(seen, names), *([shown(str(place))] if place is not None else [])]
    who = [] if said.by is None else [shown(said.by)]
    reason = say("report.voided", names.locale, reason=shown(str(said.void_reason)))
    by = ", ".join([*who, moment(said.seen_at, names)])
    return VoidWords(str(said.id), ", ".join(parts), reason, by)
