"""A paper sheet keyed in, and a blank one to print: by keyboard alone, without JavaScript."""

from __future__ import annotations

import datetime as dt
import re
import uuid
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Form, Query
from sqlalchemy import func, select
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response

from benchwalk.catalogue import Refusal
from benchwalk.records import Ledger, Observation, Person, Visit, Walk, queries
from benchwalk.records.accounts.people import SCOUTS
from benchwalk.records.base import uuid7
from benchwalk.records.paper import SKIPPED, STATES, Row, Sheet, key_in, read_cell
from benchwalk.records.queries.standing import Standing, plantings, thresholds
from benchwalk.records.queries.words import Vocabulary, vocabulary
from benchwalk.records.sync.asked import Asked, Asking
from benchwalk.report.figures import shown
from benchwalk.web.base import InScope, Missing, Scope, page, see

router = APIRouter()
RECENT = dt.timedelta(days=28)  # own choice: older paper is keyed by the import of sheets
ROWS, ROWS_MOST = 12, 60  # plants of a sheet; own choice
FIELDS_MOST = ROWS_MOST * 40  # cells of the longest sheet
SEVERAL_MOST = 500  # plants together, leaves on one; own choice
COLUMNS_SAID = 200  # letters of columns in a refusal; own choice
DIGITS_MOST = 3  # of a number of plants or leaves
CELL = re.compile(r"c[0-9]{1,2}:(.+)", re.DOTALL)
REASONS = ("time", "closed", "sign", "locked", "wet", "heat", "crew", "empty", "dark", "other")
MAY_KEY_FOR_OTHERS = ("grower", "manager")


@dataclass(frozen=True)
class Column:
    """One target: a column of the sheet."""

    key: str
    pest: str
    stage: str


@dataclass(frozen=True)
class Part:
    """One way of looking: columns under one head; ``items`` asks how many a plant."""

    method: str
    label: str
    asks_items: bool
    items: int | None
    columns: tuple[Column, ...]


@dataclass(frozen=True)
class UnitRow:
    """A unit of a walk: what its visit says, and looks keyed or sent of it."""

    id: uuid.UUID
    name: str
    visit: Visit | None
    looks: int


async def form_of(request: Request) -> FormData:
    """The form as it was sent: its cells have no names that a signature could list."""
    return await request.form(max_files=0, max_fields=FIELDS_MOST)


AForm = Annotated[FormData, Depends(form_of)]


@router.get("/paper")
def choose(scope: InScope) -> Response:
    """Choose a walk of the last weeks, or begin one."""
    return _choose(scope)


def _choose(scope: Scope, fault: Refusal | None = None) -> Response:
    walks = scope.session.scalars(
        select(Walk).where(Walk.walk_on > scope.today - RECENT).order_by(Walk.walk_on.desc())
    ).all()
    people = _people(scope)
    named = {id_: name for id_, name in people}
    return page(
        scope,
        "paper_walks.html",
        status=400 if fault else 200,
        walks=[(w, named.get(w.scout_id) if w.scout_id else None) for w in walks],
        people=_may_be(scope, people),
        days=[scope.today - dt.timedelta(days=n) for n in range(RECENT.days)],
        begun=uuid7(),
        fault=fault.said(scope.locale) if fault else "",
    )


def _people(scope: Scope) -> list[tuple[uuid.UUID, str]]:
    found = scope.session.execute(
        select(Person.id, Person.name, Person.pseudonym)
        .where(Person.role.in_(SCOUTS))
        .order_by(Person.pseudonym)
    )
    return [(row.id, row.name or row.pseudonym) for row in found]


def _may_be(scope: Scope, people: Sequence[tuple[uuid.UUID, str]]) -> list[tuple[uuid.UUID, str]]:
    """Whose sheets somebody may key: growers and managers everybody's, a scout their own."""
    everybody = scope.role in MAY_KEY_FOR_OTHERS
    return [p for p in people if everybody or p[0] == scope.person.person]


@router.post("/paper")
def begin(
    scope: InScope,
    walk_on: Annotated[str, Form()],
    scout: Annotated[uuid.UUID, Form()],
    begun: Annotated[uuid.UUID | None, Form()] = None,
) -> Response:
    """Begin a walk that only paper knows of; a form that is sent twice begins one."""
    try:
        day = _day(walk_on)
        if day > scope.today or day <= scope.today - RECENT:
            raise Refusal("paper.day", given=walk_on[:20])
        _allowed(scope, scout)
        with scope.writing() as s:
            s.info["typed_by_id"], s.info["by_id"] = s.info["by_id"], scout
            walk = uuid7() if begun is None else begun
            if s.scalars(select(Ledger.seq).where(Ledger.id == walk).limit(1)).first() is None:
                s.add(Walk(id=walk, walk_on=day, scout_id=scout))
    except Refusal as fault:
        return _choose(scope, fault)
    return see(f"/paper/{walk}")


def _day(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text.strip())
    except ValueError as no:
        raise Refusal("paper.day", given=text[:20]) from no


def _allowed(scope: Scope, scout: uuid.UUID) -> None:
    if scout not in {id_ for id_, _ in _may_be(scope, _people(scope))}:
        raise Refusal("paper.whose")


@router.get("/paper/{walk}")
def units(scope: InScope, walk: uuid.UUID) -> Response:
    """The units of a walk, those of its route first."""
    held = _walk(scope, walk)
    return page(scope, "paper_units.html", walk=held, units=_units(scope, held))


def _walk(scope: Scope, walk: uuid.UUID) -> Walk:
    held = scope.session.get(Walk, (scope.operation, walk))
    if held is None:
        raise Missing
    return held


def _units(scope: Scope, walk: Walk) -> list[UnitRow]:
    s = scope.session
    alive = {u.id: u for u in queries.units(s, walk.walk_on)}
    route = [stop.unit_id for stop in walk.route if stop.unit_id in alive]
    mine = (
        (Observation.operation_id == Visit.operation_id)
        & (Observation.walk_id == Visit.walk_id)
        & (Observation.unit_id == Visit.unit_id)
    )
    counted = select(func.count()).where(mine).correlate(Visit).scalar_subquery()
    found = s.execute(select(Visit, counted).where(Visit.walk_id == walk.id)).all()
    visits = {visit.unit_id: visit for visit, _ in found}
    looks = Counter({visit.unit_id: n for visit, n in found})
    ordered = dict.fromkeys([*route, *alive])
    return [UnitRow(u, alive[u].full_name, visits.get(u), looks[u]) for u in ordered]


@router.get("/paper/{walk}/sheet")
def blank(scope: InScope, walk: uuid.UUID) -> Response:
    """Blank sheets to print, one for each unit of the walk's route; of all units without one."""
    held = _walk(scope, walk)
    units = _units(scope, held)
    routed = {stop.unit_id: stop.plants for stop in held.route}
    wanted = [u for u in units if u.id in routed] or units
    asking, standing, words = _asking(scope, held.walk_on)
    sheets = [
        (u, _parts(asking.of(u.id, standing.get(u.id, [])).targets, words, scope.locale))
        for u in wanted
    ]
    return page(
        scope,
        "paper_sheet.html",
        walk=held,
        sheets=sheets,
        rows={u.id: _rows_of(routed.get(u.id)) for u in wanted},
    )


def _rows_of(plants: int | None) -> int:
    return ROWS if plants is None else min(max(plants, 1), ROWS_MOST)


def _asking(
    scope: Scope, day: dt.date
) -> tuple[Asking, Mapping[uuid.UUID, list[Standing]], Vocabulary]:
    words = vocabulary(scope.session)
    asking = Asking(scope.session, day, lambda: thresholds(scope.session, day), words.crops)
    standing: dict[uuid.UUID, list[Standing]] = {}
    for planting in plantings(scope.session, day):
        standing.setdefault(planting.unit_id, []).append(planting)
    return asking, standing, words


def _parts(targets: Sequence[Asked], words: Vocabulary, locale: str) -> list[Part]:
    """Targets on plants by the way they are looked for; cards have no row on this sheet."""
    plants = [t for t in targets if words.methods[t.method].kind in ("plant", "place")]
    plants.sort(key=lambda t: t.method)
    return [
        Part(
            method,
            _name(words.methods[method], locale),
            words.methods[method].item != "plant",
            next((t.items for t in asked if t.items is not None), None),
            tuple(_column(t, words, locale) for t in asked),
        )
        for method, group in groupby(plants, key=lambda t: t.method)
        if (asked := list(group))
    ]


def _column(target: Asked, words: Vocabulary, locale: str) -> Column:
    key = "|".join((target.method, target.taxon, target.stage))
    taxon, stage = words.taxa[target.taxon], words.stages[target.stage]
    return Column(key, _name(taxon, locale), _name(stage, locale))


def _name(term: Any, locale: str) -> str:
    own = term.names.get("own")
    return str(own[0] if own else term.names.get(locale, term.names.get("en", term.code)))


@router.get("/paper/{walk}/{unit}")
def sheet(
    scope: InScope,
    walk: uuid.UUID,
    unit: uuid.UUID,
    rows: Annotated[int, Query(ge=1, le=ROWS_MOST)] = ROWS,
    kept: Annotated[int | None, Query(ge=0, le=ROWS_MOST)] = None,
) -> Response:
    """The form of one unit; ``kept``: how many looks were just keyed."""
    return _sheet(scope, walk, unit, {}, rows=rows, kept=kept)


def _sheet(
    scope: Scope,
    walk: uuid.UUID,
    unit: uuid.UUID,
    said: Mapping[str, Any],
    *,
    rows: int,
    kept: int | None = None,
    fault: Refusal | None = None,
) -> Response:
    held = _walk(scope, walk)
    shown = next((u for u in _units(scope, held) if u.id == unit), None)
    if shown is None:
        raise Missing
    asking, standing, words = _asking(scope, held.walk_on)
    asked = asking.of(unit, standing.get(unit, []))
    return page(
        scope,
        "paper_form.html",
        status=400 if fault else 200,
        walk=held,
        unit=shown,
        parts=_parts(asked.targets, words, scope.locale),
        asked_by=asked.said_by,
        people=_may_be(scope, _people(scope)),
        states=STATES,
        reasons=REASONS,
        rows=rows,
        said=said,
        sheet=said.get("sheet", str(uuid7())),
        kept=kept,
        fault=fault.said(scope.locale) if fault else "",
    )


@router.post("/paper/{walk}/{unit}")
def key(scope: InScope, walk: uuid.UUID, unit: uuid.UUID, said: AForm) -> Response:
    """Write a sheet."""
    held = _walk(scope, walk)
    if unit not in {u.id for u in _units(scope, held)}:
        raise Missing
    given = {name: value for name, value in said.items() if isinstance(value, str)}
    try:
        read = _read(scope, held, unit, given)
        _allowed(scope, read.seen_by)
        with scope.writing(read.seen_by) as s:
            looks = key_in(s, read, scope.person.person)
    except Refusal as fault:
        return _sheet(scope, walk, unit, given, rows=_rows_in(given), fault=fault)
    return see(f"/paper/{walk}/{unit}?kept={looks}")


def _rows_in(said: Mapping[str, str]) -> int:
    """How many rows the sheet that was sent has: as many are shown again."""
    known = {f"p{n}": n for n in range(1, ROWS_MOST + 1)}
    numbers = [known[name] for name in said if name in known]
    return min(max(numbers, default=ROWS), ROWS_MOST)


def _read(scope: Scope, walk: Walk, unit: uuid.UUID, said: Mapping[str, str]) -> Sheet:
    """The sheet as it was typed; a refusal names the cell."""
    state = said.get("state", "")
    asking, standing, words = _asking(scope, walk.walk_on)
    parts = _parts(asking.of(unit, standing.get(unit, [])).targets, words, scope.locale)
    _all_asked(parts, said)
    return Sheet(
        id=_uuid(said.get("sheet", ""), "sheet"),
        walk=walk.id,
        unit=unit,
        seen_by=_uuid(said.get("seen_by", ""), "seen_by"),
        seen_at=_seen_at(scope, walk, said.get("seen_at", "")),
        state=state,
        reason=said.get("reason") or None,
        items=dict(_items(parts, said)),
        rows=[] if state == SKIPPED and not _any_cell(said) else list(_rows(parts, said)),
    )


def _all_asked(parts: Sequence[Part], said: Mapping[str, str]) -> None:
    """Refuse a form whose columns are asked for no more: what was counted there would be lost."""
    asked = {column.key for part in parts for column in part.columns}
    cells = [(found[1], text) for name, text in said.items() if (found := CELL.fullmatch(name))]
    lost = {key for key, text in cells if text.strip() and key not in asked}
    if lost:
        columns = ", ".join(sorted(key.replace("|", " ") for key in lost))
        raise Refusal("paper.not_asked", columns=shown(columns[:COLUMNS_SAID]))


def _uuid(text: str, name: str) -> uuid.UUID:
    try:
        return uuid.UUID(text)
    except ValueError as no:
        raise Refusal("web.fields", fields=name) from no


def _seen_at(scope: Scope, walk: Walk, text: str) -> dt.datetime:
    """A time of the walk's day, where the operation is; not one that is yet to come."""
    try:
        clock = dt.time.fromisoformat(text.strip())
    except ValueError as no:
        raise Refusal("paper.time", given=text[:20]) from no
    if clock.tzinfo is not None:
        raise Refusal("paper.time", given=text[:20])
    at = dt.datetime.combine(walk.walk_on, clock, scope.served.zone).astimezone(dt.UTC)
    if at > dt.datetime.now(dt.UTC):
        raise Refusal("paper.time", given=text[:20])
    return at


def _items(parts: Sequence[Part], said: Mapping[str, str]) -> Iterator[tuple[str, int]]:
    for part in parts:
        text = said.get(f"i:{part.method}", "").strip()
        if part.asks_items and text:
            yield part.method, _number(text, part.label)


def _number(text: str, where: str) -> int:
    plain = text.isascii() and text.isdecimal() and len(text) <= DIGITS_MOST
    if not (plain and 0 < int(text) <= SEVERAL_MOST):
        raise Refusal("paper.cell", where=where, given=text[:20])
    return int(text)


def _any_cell(said: Mapping[str, str]) -> bool:
    return any(name[:1] == "c" and ":" in name and text.strip() for name, text in said.items())


def _rows(parts: Sequence[Part], said: Mapping[str, str]) -> Iterator[Row]:
    """Rows that say something; a row whose cells are all empty was not looked at."""
    for n in range(1, ROWS_MOST + 1):
        cells = {}
        for part in parts:
            for column in part.columns:
                cell = read_cell(said.get(f"c{n}:{column.key}", ""), f"{n}, {column.pest}")
                if cell is not None:
                    method, taxon, stage = column.key.split("|")
                    cells[method, taxon, stage] = cell
        if cells:
            plants = said.get(f"p{n}", "").strip()
            yield Row(_number(plants, str(n)) if plants else 1, cells)
