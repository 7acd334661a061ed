"""A list as one JSON object, for programs: the shape of that of a scouting sheet."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections import Counter

from benchwalk.catalogue import Refusal
from benchwalk.records.sheets.as_json import Json, assumed_json, at_json, question_json
from benchwalk.records.sheets.found import Reject
from benchwalk.records.sheets.lists.bring import BroughtList
from benchwalk.records.sheets.lists.found import Finding, ListLanded, Thing, ends_of


def list_json(seen: BroughtList) -> Json:
    """What was read of a list and what became of it; `accounts` add up to `read`."""
    reading, landed = seen.reading, seen.landed
    left = (*reading.rejects, *(landed.rejects if landed else ()))
    ends = ends_of(reading, landed)
    return {
        "file": reading.file,
        "sha256": reading.sha256,
        "opens": True,
        "as": reading.kind,
        "encoding": reading.encoding,
        "delimiter": reading.delimiter,
        "mapping": {heading: dict(said) for heading, said in reading.mapping.items()},
        "assumed": assumed_json(reading.assumed),
        "read": len(ends),
        "accounts": dict(Counter(outcome for _, outcome in ends)),
        "records": [_thing(t) for t in reading.things],
        "reject": [_reject(r) for r in left],
        "duplicates": [{"at": at_json(d.at), "of": at_json(d.of)} for d in reading.duplicates],
        "skip": [{"at": at_json(s.at), "why": s.why} for s in reading.skips],
        "ignored_columns": [{"col": c.col, "why": c.why} for c in reading.ignored_columns],
        "found": [_finding(f) for f in reading.findings],
        "asked": [question_json(q) for q in seen.waiting],
        "recorded": _landed(landed) if seen.recorded and landed is not None else None,
        "would_be": _landed(landed) if not seen.recorded and landed is not None else None,
        "rejects": None if seen.rejects is None else str(seen.rejects),
    }


def list_refusal_json(refused: Refusal, file: str) -> Json:
    """A file of which nothing was taken, as a JSON object."""
    return {
        "file": file,
        "opens": False,
        "file_reject": refused.key.removeprefix("refused."),
        "said": str(refused),
    }


def _landed(landed: ListLanded) -> Json:
    return {
        "new_records": landed.new,
        "rows": len(landed.recorded),
        "already_there": [at_json(at) for at in landed.already_there],
        "units_made": landed.units_made,
        "places_made": landed.places_made,
        "houses_made": landed.houses_made,
        "stations_made": landed.stations_made,
        "crops_made": landed.crops_made,
        "confirmed": landed.confirmed,
        "not_kept": [{"at": at_json(at), "why": why} for at, why in landed.not_kept],
    }


def _plain(value: object) -> object:
    return value.isoformat() if isinstance(value, dt.date) else value


def _thing(thing: Thing) -> Json:
    """What a row says; a key that does not apply, or that the list does not say, is left out."""
    said = {f.name: getattr(thing, f.name) for f in dataclasses.fields(thing)}
    at = said.pop("at")
    return {"at": at_json(at)} | {k: _plain(v) for k, v in said.items() if v is not None}


def _reject(r: Reject) -> Json:
    said: Json = {"at": at_json(r.at), "reason": r.reason, "raw": r.raw}
    if r.conflicts_with is not None:
        said["conflicts_with"] = {"row": r.conflicts_with.row}
    return said if r.question is None else said | {"question": r.question}


def _finding(f: Finding) -> Json:
    return {
        "what": f.what,
        "at": at_json(f.at),
        "sensor": f.sensor,
        "from": f.since.isoformat(),
        "to": f.until.isoformat(),
        "raw": f.raw,
    }
