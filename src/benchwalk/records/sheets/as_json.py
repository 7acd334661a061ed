"""A reading as one JSON object, for programs: the keys of a truth file."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from benchwalk.records.sheets.found import (
    Assumed,
    At,
    Count,
    NothingSeen,
    NotLooked,
    Question,
    Reading,
    Reject,
    SheetRefused,
    Treatment,
)

Json = dict[str, Any]


def as_format_json(reading: Reading) -> Json:
    """What was read, as a JSON object; `counts` are of its lists, `accounts` of what was read."""
    lists: dict[str, list[Json]] = {
        "records": [_count(c) for c in reading.records],
        "nothing_seen": [_nothing(n) for n in reading.nothing_seen],
        "not_looked": [_not_looked(n) for n in reading.not_looked],
        "reject": [_reject(r) for r in reading.rejects],
        "duplicates": _duplicates(reading),
        "treatments": [_treatment(t) for t in reading.treatments],
        "skip": [{"at": at_json(s.at), "why": s.why} for s in reading.skips],
    }
    return {
        "file": reading.file,
        "sha256": reading.sha256,
        "opens": True,
        "encoding": reading.encoding,
        "delimiter": reading.delimiter,
        "mapping": {heading: dict(said) for heading, said in reading.mapping.items()},
        "assumed": assumed_json(reading.assumed),
        "counts": {name: len(items) for name, items in lists.items()},
        "read": reading.read,
        "accounts": dict(reading.accounts()),
        **lists,
        "ignored_columns": [{"col": c.col, "why": c.why} for c in reading.ignored_columns],
        "notes": [
            {"at": at_json(n.at), "text": n.text, "hostile": n.hostile} for n in reading.notes
        ],
        "renames": [
            {
                "old": r.old,
                "new": r.new,
                "date": _day(r.on),
                "at": at_json(r.at),
                "stated": r.stated,
            }
            for r in reading.renames
        ],
        "asked": [question_json(q) for q in reading.asked],
    }


def refusal_json(refused: SheetRefused, file: str) -> Json:
    """A file of which nothing was taken, as a JSON object."""
    empty = ("records", "nothing_seen", "not_looked", "reject", "duplicates", "treatments", "skip")
    return {
        "file": file,
        "opens": False,
        "file_reject": refused.reason,
        "said": str(refused),
        "counts": dict.fromkeys(empty, 0),
        **{name: [] for name in (*empty, "notes", "renames", "asked")},
    }


def assumed_json(assumed: Iterable[Assumed]) -> list[Json]:
    """What was taken for granted, and what settled it."""
    return [
        {"what": a.what, "value": a.value, "because": a.because and at_json(a.because)}
        for a in assumed
    ]


def at_json(at: At) -> Json:
    """A place: row and heading of a text file, sheet and cell of a workbook."""
    if at.sheet is not None:
        where = {"cell": at.cell} if at.cell else {"row": at.row} if at.row else {}
        return {"sheet": at.sheet, **where}
    return {"row": at.row} if at.col is None else {"row": at.row, "col": at.col}


def _day(on: object) -> str | None:
    return None if on is None else str(on)


def _given(pairs: Iterable[tuple[str, object]]) -> Json:
    """The keys that apply; one that does not is left out."""
    return {key: value for key, value in pairs if value is not None}


def _count(c: Count) -> Json:
    required = {
        "at": at_json(c.at),
        "date": c.on.isoformat(),
        "unit": c.unit,
        "unit_raw": c.unit_raw,
        "sampling_unit": c.sampling_unit,
        "method": c.method,
        "pest": c.taxon,
        "pest_raw": c.taxon_raw,
        "stage": c.stage,
        "kind": c.how,
        "value": c.value,
        "raw": c.raw,
    }
    return required | _given(
        (
            ("date_out", _day(c.hung_on)),
            ("exposure_days", c.per_days if c.hung_on is None else (c.on - c.hung_on).days),
            ("station", c.station),
            ("plant", c.plant),
            ("plants", c.plants),
            ("items", c.items),
            ("time", c.time),
            ("of", c.of),
            ("squares_counted", c.squares_counted),
            ("squares_printed", c.squares_printed),
            ("crop", c.crop),
            ("scout", c.scout),
            ("lacks", list(c.lacks) or None),
            ("resolved", c.resolved),
        )
    )


def _nothing(n: NothingSeen) -> Json:
    required = {"at": at_json(n.at), "date": n.on.isoformat(), "unit": n.unit, "method": n.method}
    return required | _given(
        (
            ("plant", n.plant),
            ("plants", n.plants),
            ("crop", n.crop),
            ("scout", n.scout),
        )
    )


def _not_looked(n: NotLooked) -> Json:
    return {
        "at": at_json(n.at),
        "raw": n.raw,
        "date": _day(n.on),
        "unit": n.unit,
        "pest": n.taxon,
        "stage": n.stage,
    }


def _reject(r: Reject) -> Json:
    conflict = None if r.conflicts_with is None else _row(r.conflicts_with)
    return {"at": at_json(r.at), "reason": r.reason, "raw": r.raw} | _given(
        (
            ("because", None if r.because is None else at_json(r.because)),
            ("conflicts_with", conflict),
        )
    )


def _duplicates(reading: Reading) -> list[Json]:
    pairs = {(d.at.line, d.of.line, d.at.row, d.of.row): d for d in reading.duplicates}
    return [{"at": _row(d.at), "of": _row(d.of)} for d in pairs.values()]


def _row(at: At) -> Json:
    """The row of a place; of a workbook the cell, as a day can stand in a column."""
    return {"row": at.row} if at.sheet is None else at_json(at)


def _treatment(t: Treatment) -> Json:
    place: Json = {"unit": t.units[0]} if len(t.units) == 1 else {"units": list(t.units)}
    return {
        "at": at_json(t.at),
        **place,
        "raw": t.raw,
        "date": _day(t.on),
        "kind": t.kind,
        "what": t.what,
        "active": t.active,
    } | _given(
        (("week_of", _day(t.week_of)), ("inferred", t.inferred), ("lacks", list(t.lacks) or None))
    )


def question_json(q: Question) -> Json:
    """What only a person knows, with the choices."""
    return {
        "id": q.id,
        "at": at_json(q.at),
        "reason": q.reason,
        "question": q.question,
        "choices": list(q.choices),
        "proposed": q.proposed,
    }
