"""A unit's half year, and the looks behind a number, for other programs: codes and plain figures.

The dataclasses are those that the pages show, so a figure with a ``data-key`` stands here too: a
course's point is ``unit.ID.taxon.stage.method.density.DAY``. An absent figure is null, never 0.
"""

from __future__ import annotations

import datetime as dt

from benchwalk.records import queries
from benchwalk.records.queries.looks import Look
from benchwalk.report.as_json import (
    FORMAT,
    Json,
    ahead_json,
    counted_json,
    in_force_json,
    interval_json,
    not_looked_json,
    unit_json,
)
from benchwalk.report.forecast_words import did_json
from benchwalk.summarise import Key, Point
from benchwalk.summarise.checks import Check
from benchwalk.summarise.forecasts import Forecasts
from benchwalk.summarise.looks import Behind
from benchwalk.summarise.unit import FlagOf, PestCourse, StageCourse, UnitCourse


def course_json(course: UnitCourse, found: Forecasts | None) -> Json:
    """One unit up to its day; with ``found`` also where it is heading and what treatments did."""
    known, unit, now = course.known, course.unit, course.now
    return {
        "format": FORMAT,
        "operation": known.operation,
        "unit": unit.full_name,
        "unit_id": str(unit.id),
        "opened_on": unit.opened_on.isoformat(),
        "closed_on": _day(unit.closed_on),
        "successors": [str(u.id) for u in course.successors],
        "since": course.since.isoformat(),
        "day": course.day.isoformat(),
        "now": None if now is None else unit_json(known, now),
        "missing": None if course.missing is None else not_looked_json(course.missing),
        "courses": [_course(pest, found) for pest in course.courses],
        "air": [
            {"on": d.on.isoformat(), "low_c": d.low_c, "high_c": d.high_c} for d in course.degrees
        ],
        "treatments": [_put(course, put) for put in course.put],
        "did": []
        if found is None
        else [did_json(known, d) for d in found.did if d.population.key.unit_id == course.unit.id],
        "checks": [_check(check) for check in course.checks],
        "phases": [_phase(row) for row in course.phases],
        "walks": [_walk(walk) for walk in course.walks],
        "flags": [_flag(flag) for flag in course.flags],
        "sightings": [_sighted(seen) for seen in course.sightings],
    }


def _day(on: dt.date | None) -> str | None:
    return None if on is None else on.isoformat()


def _course(pest: PestCourse, found: Forecasts | None) -> Json:
    stages = [_stage(pest, stage, found) for stage in pest.stages]
    return {"taxon": pest.taxon, "method": pest.method, "per": pest.per, "stages": stages}


def _stage(pest: PestCourse, stage: StageCourse, found: Forecasts | None) -> Json:
    ahead = None if found is None else found.of(stage.key)
    same = ahead is not None and ahead.population.per == pest.per
    return {
        "stage": stage.key.stage,
        "points": [_point(point) for point in stage.points],
        "thresholds": [
            {
                "from_on": step.from_on.isoformat(),
                "threshold": None if step.rule is None else in_force_json(step.rule),
            }
            for step in stage.steps
        ],
        "ahead": ahead_json(ahead) if ahead is not None and same else None,
    }


def _point(point: Point) -> Json:
    d = point.density
    return {
        "on": point.on.isoformat(),
        "unit_id": str(point.unit_id),
        **interval_json("mean", d.mean, d.low, d.high),
        "reason": d.reason or None,
    }


def _put(course: UnitCourse, put: queries.Put) -> Json:
    return {
        "application_id": str(put.application_id),
        "on": course.on(put.at).isoformat(),
        "at": put.at.isoformat(),
        "kind": put.kind,
        "what": put.what,
        "active": put.active,
        "moa_group": put.moa_group,
        "against": put.against,
        "share_percent": put.share_percent,
    }


def _check(check: Check) -> Json:
    return {
        "application_id": str(check.put.application_id),
        "what": check.put.what,
        "treated_on": check.on.isoformat(),
        "due_on": check.due_on.isoformat(),
    }


def _phase(row: queries.PhaseOf) -> Json:
    return {
        "planting_id": str(row.planting_id),
        "crop": row.crop,
        "cultivar": row.cultivar,
        "phase": row.phase,
        "from_on": row.from_on.isoformat(),
        "first_day_assumed": row.provisional,
    }


def _walk(walk: queries.Called) -> Json:
    """``state`` null: no word came back of a unit that was on the route."""
    return {
        "on": walk.walk_on.isoformat(),
        "state": walk.state,
        "reason": walk.reason,
        "scout": walk.scout,
        "minutes": walk.minutes,
        "fast": walk.fast,
        "note": walk.note,
    }


def _flag(flag: FlagOf) -> Json:
    return {
        "id": str(flag.id),
        "colour": flag.colour,
        "reason": flag.reason,
        "position": flag.position,
        "marks": [{"what": m.what, "on": m.on.isoformat(), "by": m.by} for m in flag.marks],
    }


def _sighted(seen: queries.Sighted) -> Json:
    return {
        "id": str(seen.id),
        "at": seen.at.isoformat(),
        "cause": seen.cause,
        "taxon": seen.taxon,
        "pattern": seen.pattern,
        "position": seen.position,
        "words": seen.words,
        "photo_sha256": seen.photo,
        "by": seen.by,
    }


def looks_json(behind: Behind) -> Json:
    """A number and every look it is the sum of; ``voided`` are no part of it.

    ``counts`` is what a look adds: of a card counted whole it is what is new on it.
    """
    s = behind.series
    return {
        "format": FORMAT,
        "operation": behind.known.operation,
        "unit": behind.unit.full_name,
        **_key(s.key),
        "on": s.on.isoformat(),
        "counted": counted_json(s),
        "looks": [_look(look) | {"counts": behind.counts(look)} for look in behind.looks],
        "voided": [
            {"id": str(said.id), "rev": said.rev, "reason": said.void_reason, "by": said.by}
            for said in behind.voided
        ],
    }


def _key(key: Key) -> Json:
    return {
        "unit_id": str(key.unit_id),
        "taxon": key.taxon,
        "stage": key.stage,
        "method": key.method,
    }


def _look(look: Look) -> Json:
    """``how`` null: the look found nothing at all and holds no tally: looked, none."""
    return {
        "id": str(look.id),
        "rev": look.rev,
        "seen_at": look.seen_at.isoformat(),
        "received_at": look.received_at.isoformat(),
        "by": look.by,
        "typed_by": look.typed_by,
        "device": look.device,
        "why": look.why,
        "position": look.position,
        "card": look.card,
        "plants": look.plants,
        "items": look.items,
        "of_items": look.of_items,
        "how": look.how,
        "number": look.number,
        "mean": look.mean,
        "infested": look.infested,
        "note": look.note,
    }
