"""What became of a sheet, in words: what is proposed, what was read, what was recorded."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, get_args

from benchwalk.catalogue import say
from benchwalk.records.sheets.bring import Brought
from benchwalk.records.sheets.found import At, Outcome, Question, Reading
from benchwalk.report.figures import shown

OUTCOMES: tuple[Outcome, ...] = get_args(Outcome)
FIRST = 20  # of a long list on a terminal; the rest is in the file of rows not taken


def proposal(reading: Reading, open_: Sequence[Question], lang: str) -> str:
    """What a person is asked to agree to before anything is recorded."""
    return "\n".join(
        [
            *_columns(reading, lang),
            *_accounts(reading, lang),
            *_questions(open_, "sheet.proposed", lang),
        ]
    )


def read_text(reading: Reading, lang: str) -> str:
    """All that a dry run shows: columns, what was assumed, where cells end, what is asked."""
    return "\n".join(
        [
            *_columns(reading, lang),
            *_accounts(reading, lang),
            *_questions(reading.asked, "sheet.asked", lang),
            *_rejects(reading, lang),
            say("sheet.dry", lang),
        ]
    )


def brought_text(brought: Brought, lang: str) -> str:
    """What was recorded, what was there already, and what waits for a person."""
    reading, landed = brought.reading, brought.landed
    if landed is None:
        return "\n".join(
            [
                *_questions(brought.waiting, "sheet.proposed", lang),
                say("sheet.waits", lang),
            ]
        )
    out = [*_accounts(reading, lang), say("sheet.landed", lang, n=landed.counts)]
    if landed.already_there:
        out.append(say("sheet.already", lang, n=len(landed.already_there)))
    if landed.units_made:
        names = ", ".join(shown(u) for u in landed.units_made)
        out.append(say("sheet.units", lang, n=len(landed.units_made), names=names))
    if landed.treatments:
        out.append(say("sheet.treatments", lang, n=landed.treatments))
    out += [
        say("sheet.undated", lang, at=place(t.at, lang), words=shown(t.raw)) for t in landed.undated
    ]
    out += [
        say("sheet.overlap", lang, at=place(o.at, lang), stage=o.stage, taken=o.taken)
        for o in landed.overlaps
    ]
    out += [
        say(
            "sheet.conflict",
            lang,
            at=place(c.at, lang),
            recorded=c.recorded,
            written=shown(c.written),
        )
        for c in landed.conflicts
    ]
    if brought.rejects is not None:
        out.append(say("sheet.rejects", lang, n=len(reading.rejects), path=brought.rejects))
    return "\n".join(out)


def brought_json(brought: Brought) -> dict[str, Any]:
    """The same for programs."""
    landed = brought.landed
    out: dict[str, Any] = {
        "file": brought.reading.file,
        "read": brought.reading.read,
        "ended": dict(brought.reading.accounts()),
        "waiting": [q.id for q in brought.waiting],
        "rejects": None if brought.rejects is None else str(brought.rejects),
        "recorded": None,
    }
    if landed is not None:
        out["recorded"] = {
            "new_records": landed.new,
            "counts": landed.counts,
            "already_there": len(landed.already_there),
            "conflicts": [
                {"at": place(c.at), "recorded": c.recorded, "written": c.written}
                for c in landed.conflicts
            ],
            "overlaps": [
                {"at": place(o.at), "stage": o.stage, "taken": o.taken} for o in landed.overlaps
            ],
            "units_made": landed.units_made,
            "houses_made": landed.houses_made,
            "treatments": landed.treatments,
            "treatments_without_a_day": [place(t.at) for t in landed.undated],
        }
    return out


def place(at: At, lang: str = "en") -> str:
    """Where in the file, as a person would look it up."""
    row = at.cell or f"{say('sheet.column.row', lang)} {at.row}"
    parts = [p for p in (at.sheet, row, at.col and at.col.strip()) if p]
    return ", ".join(shown(p) for p in parts)


def _columns(reading: Reading, lang: str) -> Iterable[str]:
    yield say("sheet.file", lang, file=shown(reading.file), read=reading.read)
    yield say("sheet.columns", lang)
    for heading, means in reading.mapping.items():
        what = ", ".join(str(v) for v in means.values() if v is not None)
        yield f"  {shown(heading.strip())}: {what}"
    for column in reading.ignored_columns:
        yield f"  {shown(column.col.strip())}: {say('sheet.ignored', lang)}"
    for assumed in reading.assumed:
        yield "  " + say("sheet.assumed", lang, what=assumed.what, value=assumed.value)


def _accounts(reading: Reading, lang: str) -> Iterable[str]:
    """One line that adds up to what was read."""
    held = reading.accounts()
    parts = [f"{say(f'sheet.end.{o}', lang)} {held[o]}" for o in OUTCOMES if o in held]
    yield say("sheet.accounts", lang, read=reading.read, parts=", ".join(parts))


def _questions(asked: Sequence[Question], title: str, lang: str) -> Iterable[str]:
    if asked:
        yield say(title, lang)
    for q in asked:
        proposed = say("sheet.proposes", lang, choice=q.proposed) if q.proposed else ""
        choices = ", ".join(q.choices)
        where = place(q.at, lang)
        yield f"  {q.id} ({where}): {_question(q, lang)} [{choices}] {proposed}".rstrip()


def _question(q: Question, lang: str) -> str:
    """What is asked, in a language; what it is about stands in its id."""
    return say(
        f"sheet.ask.{q.reason}",
        lang,
        subject=shown(q.id.partition(":")[2]),
        proposed=q.proposed,
        choices=", ".join(q.choices[:-1]),
    )


def _rejects(reading: Reading, lang: str) -> Iterable[str]:
    if reading.rejects:
        yield say("sheet.not_taken", lang, n=len(reading.rejects))
    for r in reading.rejects[:FIRST]:
        yield f"  {place(r.at, lang)}: {shown(r.raw)!r}, {say(f'sheet.reason.{r.reason}', lang)}"
    if len(reading.rejects) > FIRST:
        yield "  " + say("sheet.and_more", lang, n=len(reading.rejects) - FIRST)
