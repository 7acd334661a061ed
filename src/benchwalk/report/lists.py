"""What became of a list, in words: what it was taken for, where its rows ended, what is odd."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Sequence

from benchwalk.catalogue import say
from benchwalk.records.sheets.found import Question
from benchwalk.records.sheets.lists.as_json import list_json
from benchwalk.records.sheets.lists.bring import BroughtList
from benchwalk.records.sheets.lists.found import OUTCOMES, Finding, ListLanded, ends_of
from benchwalk.report.figures import shown
from benchwalk.report.sheets import place

FIRST = 20  # of a long list on a terminal; the rest is in the JSON and the file of rows not taken


def list_told(seen: BroughtList, lang: str, *, dry_run: bool, as_json: bool) -> str:
    """What became of a list, for a program or a person."""
    if as_json:
        return json.dumps(list_json(seen), ensure_ascii=False, indent=1)
    return list_text(seen, lang) if dry_run else brought_list_text(seen, lang)


def list_text(seen: BroughtList, lang: str) -> str:
    """All that a dry run shows, and what a person is asked to agree to."""
    return "\n".join([*_told(seen, lang), *_left(seen, lang), say("sheet.dry", lang)])


def list_proposal(seen: BroughtList, lang: str) -> str:
    """What a person is asked to agree to before anything is recorded."""
    return "\n".join(_told(seen, lang))


def brought_list_text(seen: BroughtList, lang: str) -> str:
    """What was recorded, what was there already, what is odd, and what waits for a person."""
    if not seen.recorded:
        return "\n".join([*_told(seen, lang), *_left(seen, lang), say("list.waits", lang)])
    out = [*_told(seen, lang)]
    if seen.rejects is not None:
        out.append(say("sheet.rejects", lang, n=_count_left(seen), path=seen.rejects))
    return "\n".join(out)


def _told(seen: BroughtList, lang: str) -> Iterable[str]:
    reading = seen.reading
    ends = Counter(outcome for _, outcome in ends_of(reading, seen.landed))
    total = sum(ends.values())
    yield say(f"list.as.{reading.kind}", lang, file=shown(reading.file), read=total)
    if not seen.recorded:
        yield from _columns(seen, lang)
    for assumed in reading.assumed:
        yield "  " + say("sheet.assumed", lang, what=assumed.what, value=assumed.value)
    parts = [f"{say(f'list.end.{o}', lang)} {ends[o]}" for o in OUTCOMES if o in ends]
    yield say("sheet.accounts", lang, read=total, parts=", ".join(parts))
    if seen.landed is not None:
        yield from _made(seen.landed, lang)
    yield from _findings(reading.findings, lang)
    yield from _questions(seen.waiting, lang)


def _columns(seen: BroughtList, lang: str) -> Iterable[str]:
    yield say("sheet.columns", lang)
    ignored = {c.col.strip() for c in seen.reading.ignored_columns}
    for heading, means in seen.reading.mapping.items():
        what = ", ".join(str(v) for v in means.values() if v is not None)
        yield f"  {shown(heading)}: {say('sheet.ignored', lang) if heading in ignored else what}"


def _made(landed: ListLanded, lang: str) -> Iterable[str]:
    if landed.units_made:
        names = ", ".join(shown(u) for u in landed.units_made)
        yield say("sheet.units", lang, n=len(landed.units_made), names=names)
    for what, made in (
        ("made.places", landed.places_made),
        ("made.houses", landed.houses_made),
        ("made.stations", landed.stations_made),
        ("made.crops", landed.crops_made),
        ("confirmed", landed.confirmed),
    ):
        if made:
            yield say(f"list.{what}", lang, names=", ".join(shown(m) for m in made))
    for at, why in landed.not_kept:
        yield say(f"list.not_kept.{why}", lang, at=place(at, lang))


def _findings(findings: Sequence[Finding], lang: str) -> Iterable[str]:
    """What is odd about a logger file: how much of each, and where."""
    for what in dict.fromkeys(f.what for f in findings):
        mine = [f for f in findings if f.what == what]
        yield say(f"list.found.{what}", lang, n=len(mine))
        for f in mine[:FIRST]:
            yield "  " + _finding(f, lang)
        if len(mine) > FIRST:
            yield "  " + say("sheet.and_more", lang, n=len(mine) - FIRST)


def _finding(f: Finding, lang: str) -> str:
    since, until = (f"{at:%Y-%m-%d %H:%M %Z}" for at in (f.since, f.until))
    when = since if f.since == f.until else say("list.between", lang, since=since, until=until)
    return f"{place(f.at, lang)}: {when}, {shown(f.raw)}"


def _questions(asked: Sequence[Question], lang: str) -> Iterable[str]:
    if asked:
        yield say("sheet.asked", lang)
    for q in asked:
        proposed = say("sheet.proposes", lang, choice=q.proposed) if q.proposed else ""
        words = say(
            f"sheet.ask.{q.reason}",
            lang,
            subject=shown(q.id.partition(":")[2]),
            proposed=q.proposed,
            choices=", ".join(q.choices[:-1]),
        )
        where, choices = place(q.at, lang), ", ".join(shown(c) for c in q.choices)
        yield f"  {shown(q.id)} ({where}): {words} [{choices}] {proposed}".rstrip()


def _count_left(seen: BroughtList) -> int:
    return len(seen.reading.rejects) + (len(seen.landed.rejects) if seen.landed else 0)


def _left(seen: BroughtList, lang: str) -> Iterable[str]:
    left = (*seen.reading.rejects, *(seen.landed.rejects if seen.landed else ()))
    if left:
        yield say("sheet.not_taken", lang, n=len(left))
    for r in left[:FIRST]:
        yield f"  {place(r.at, lang)}: {shown(r.raw)!r}, {say(f'sheet.reason.{r.reason}', lang)}"
    if len(left) > FIRST:
        yield "  " + say("sheet.and_more", lang, n=len(left) - FIRST)
