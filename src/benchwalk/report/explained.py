"""What became of a cell of a sheet, in words."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import singledispatch

from benchwalk.catalogue import say
from benchwalk.records.sheets.explain import Ended, Explained
from benchwalk.records.sheets.found import (
    At,
    Count,
    Duplicate,
    Note,
    NothingSeen,
    NotLooked,
    Reject,
    Skip,
    Treatment,
)
from benchwalk.report.figures import shown

FEW = 12  # lines of a long row or page; how many more there are is said


def explained_text(told: Explained, lang: str) -> str:
    """Where the place is, what its column holds, what became of it, and what leans on it."""
    return "\n".join([_where(told, lang), *_column(told, lang), *_fate(told, lang)])


def _where(told: Explained, lang: str) -> str:
    row = say("explain.row", lang, row=told.row)
    parts = [told.sheet, told.cell or row]
    place = ", ".join(shown(p) for p in parts if p)
    return say("explain.written", lang, place=place, text=shown(told.text) or "''")


def _column(told: Explained, lang: str) -> Iterable[str]:
    column = told.column
    if column is None:
        return
    tally = column.tally
    means = column.meaning
    if tally is not None:
        words = (tally.taxon or tally.word, tally.stage.lstrip("!"), tally.method)
        means = ", ".join(w.replace("_", " ") for w in words)
    key = "explain.heading" if told.heading else "explain.column"
    yield say(key, lang, heading=shown(column.heading.strip()), means=means)


def _fate(told: Explained, lang: str) -> Iterable[str]:
    for ended in told.ended[:FEW]:
        yield _said(ended, lang)
    if told.leans:
        yield say("explain.leans", lang)
    for ended in told.leans[:FEW]:
        yield f"  {_place(ended.at, lang)}: {_said(ended, lang)}"
    more = max(len(told.ended), len(told.leans)) - FEW
    if more > 0:
        yield say("sheet.and_more", lang, n=more)
    if not told.ended and not told.leans and not told.heading:
        key = "explain.nothing" if told.column else "explain.outside"
        yield say(key, lang)


def _place(at: At, lang: str) -> str:
    row = at.cell or say("explain.row", lang, row=at.row)
    return ", ".join(shown(p) for p in (row, at.col and at.col.strip()) if p)


@singledispatch
def _said(ended: Ended, lang: str) -> str:
    raise TypeError(f"{type(ended).__name__} is no outcome of a cell")


@_said.register
def _(count: Count, lang: str) -> str:
    number = "" if count.value is None else f"{count.value:g}"
    if count.of is not None:
        number = f"{number}/{count.of}"
    words = (count.taxon, count.stage, count.method)
    return say(
        "explain.recorded",
        lang,
        what=", ".join(w.replace("_", " ") for w in words),
        how=say(f"explain.how.{count.how}", lang, n=number),
        unit=shown(count.unit),
        day=count.on.isoformat(),
        lacks=_lacks(count, lang),
    )


def _lacks(count: Count, lang: str) -> str:
    if not count.lacks:
        return ""
    return say("explain.lacks", lang, what=", ".join(w.replace("_", " ") for w in count.lacks))


@_said.register
def _(look: NothingSeen, lang: str) -> str:
    return say("explain.nothing_seen", lang, unit=shown(look.unit), day=look.on.isoformat())


@_said.register
def _(absent: NotLooked, lang: str) -> str:
    return say("explain.not_looked", lang, day=absent.on.isoformat())


@_said.register
def _(reject: Reject, lang: str) -> str:
    why = say(f"sheet.reason.{reject.reason}", lang)
    to_do = say(f"sheet.to_do.{reject.reason}", lang)
    if reject.question is not None:
        to_do = say("sheet.to_do.answer", lang, question=reject.question)
    return say("explain.rejected", lang, why=why, to_do=to_do)


@_said.register
def _(double: Duplicate, lang: str) -> str:
    return say("explain.duplicate", lang, place=_place(double.of, lang))


@_said.register
def _(done: Treatment, lang: str) -> str:
    day = done.on.isoformat() if done.on else say("explain.no_day", lang)
    what = done.active or done.what or shown(done.raw)
    return say("explain.treatment", lang, kind=done.kind, what=what, day=day)


@_said.register
def _(note: Note, lang: str) -> str:
    return say("explain.note", lang)


@_said.register
def _(skip: Skip, lang: str) -> str:
    return say("explain.skipped", lang, why=say(f"sheet.skip.{_key(skip.why)}", lang))


def _key(why: str) -> str:
    return "_".join(re.findall("[a-z]+", why))
