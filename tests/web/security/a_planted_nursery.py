"""An invented nursery whose every free text is an attack, planted through the records.

Which columns are free text is read from the tables: a new one is planted without anybody's doing,
or stands in `NOT_FREE` with its reason.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from itertools import cycle

import sqlalchemy as sa

import benchwalk.records as r
from benchwalk import demo
from benchwalk.demo import scenario
from benchwalk.records.accounts import devices, people
from benchwalk.records.base import Base
from benchwalk.records.database import folder_of, writing
from benchwalk.records.setup import set_up
from benchwalk.records.sync import Told, take
from benchwalk.records.vocabulary import Term

WEEKS = 2
EACH = 9  # rows of a column that are planted, where there are so many
MARK = "x-planted"
# every context that a text can break out of: an element, its text, an attribute of either quote
# or of none, a title, a comment, a style; a template's own signs; a second field of a header
BODY = (
    f"<{MARK}></{MARK}><script>{MARK}()</script><img src=x onerror={MARK}()>"
    f"</title></textarea></style><svg onload={MARK}()>-->"
    f"\" {MARK}=1 onfocus=\"{MARK}()\" autofocus x=\"' {MARK}=2 onfocus='{MARK}()' x='"
    " {{ 9**9 }}{% raw %}${9**9} \u202e\x1b[2J"
)
# what counts only where a text begins: a formula, an address that runs, a turned reading
HEADS = (
    "=1+2",
    "javascript:alert(1)//",
    "+1",
    "-1",
    "@sum(1)",
    "\t=1",
    "\r\nSet-Cookie: planted=1",
    "\x1b[2J",
    "' OR 1=1 --",
)
SHORT = f'"><{MARK}>\u202e\x1b[2J'  # where a column holds no more than a few signs

# columns that no person's words get into; each with what keeps them out
NOT_FREE = {
    "account_event.detail": "the program's own words; test_accounts.py holds them to ids",
    "account_event.kind": "the program's own words, each with its string",
    "account_event.source": "a network address, of the connection",
    "aside.body": "planted by a phone's item, below",
    "aside.kind": "planted by a phone's item, below",
    "aside.reason": "the program's own words, each with its string",
    "aside.settled_how": "one of the ways there are; test_conflict_pages.py",
    "credential.passphrase": "an argon2id hash",
    "credential.pin": "an argon2id hash",
    "device.app_version": "planted by a phone's message, below",
    "device_token.scope": "the program's own word",
    "ledger.body": "the records' own texts, planted with each of them",
    "ledger.kind": "the name of a table",
    "ledger.void_reason": "planted by a void, below",
    "movement.kind": "held to a list by the check of its ends",
    "operation.zone": "a name of the list of time zones; test_setup.py",
    "refit.numbers": "numbers that the program fits",
    "sign_in.browser": "planted by a sign-in, below",
}
Place = tuple[type[Base], sa.Column]


def name_of(column: sa.Column) -> str:
    return f"{column.table.name}.{column.name}"


def text_columns() -> Iterator[Place]:
    """Every column of text or of a document, by its class."""
    for mapper in Base.registry.mappers:
        for column in mapper.local_table.c:
            if isinstance(column.type, sa.String | sa.JSON):
                yield mapper.class_, column


def is_enumerated(column: sa.Column) -> bool:
    """Whether the database itself holds a column to a closed list."""
    listed = (c.sqltext.text for c in column.table.constraints if isinstance(c, sa.CheckConstraint))
    return any(text.startswith(f"{column.name} IN (") for text in listed)


def free_columns() -> dict[str, Place]:
    """What a person can write anything into: no closed list, no code of another table."""
    return {
        name_of(column): (model, column)
        for model, column in text_columns()
        if not column.foreign_keys and not is_enumerated(column)
    }


def attack(column: sa.Column, head: str, sign: str = "") -> str:
    """A text for a column, which says which column it is, and whose by the sign."""
    length = getattr(column.type, "length", None)
    if length is None:
        return f"{head}{sign}[{name_of(column)}]{BODY}"
    return f"{sign}{SHORT}{name_of(column)}"[:length]


def document(column: sa.Column, head: str, sign: str = "") -> dict[str, object]:
    """A document whose texts are the attack, in the shape that its readers take."""
    text = attack(column, head, sign)
    if column.name == "names":
        return {"en": text, "es": text, "own": [text]}
    return {text: "2026-01-01" if column.name == "former_names" else 21}


class Planted:
    """An operation of a few weeks, planted; ``texts`` says what stands in which column."""

    def __init__(self, engine: sa.Engine, sign: str = "", weeks: int = WEEKS) -> None:
        self.sign = sign
        self.engine, self.folder = engine, folder_of(engine)
        self.operation = set_up(engine, HEADS[0] + sign + BODY, scenario.ZONE.key).operation
        self.texts: dict[str, set[str]] = {"operation.name": {HEADS[0] + sign + BODY}}
        with writing(engine, self.operation) as s:
            demo.build(s, weeks)
        with writing(engine, self.operation) as s:
            self.manager = people.add_person(s, "The manager", "manager", "manager@here")
            for row in self._never_in_two_weeks(s):
                s.add(row)
                s.flush()
            self._own_words(s)
        self.aside = self._said_by_a_phone()
        with writing(engine, self.operation) as s:
            for name, (model, column) in free_columns().items():
                if name not in NOT_FREE and name not in self.texts:
                    self._plant(s, model, column)

    def _never_in_two_weeks(self, s) -> Iterator[Base]:
        """One of each kind of record that the nursery's first weeks do not have."""
        unit = s.scalars(sa.select(r.Unit).order_by(r.Unit.name)).first()
        walk = s.scalars(sa.select(r.Walk).order_by(r.Walk.id.desc())).first()
        when = dt.datetime.combine(walk.walk_on, dt.time(8), scenario.ZONE)
        for n in range(EACH):
            at = when + dt.timedelta(minutes=n)
            yield r.Flag(unit_id=unit.id, colour="red", reason="thrips")
            yield r.Sighting(unit_id=unit.id, seen_at=at, cause="pest", taxon="thrips")
            load = r.Load(n=1, started_at=at - dt.timedelta(days=5), precision="minute")
            load.treated = [r.Treated(unit_id=unit.id)]
            yield r.Application(kind="spray", what="soap", taxon="thrips", loads=[load])
        taken = {"was": "thrips", "taxon": "western_flower_thrips", "from_on": walk.walk_on}
        yield r.Identification(unit_id=unit.id, by_id=self.manager, confidence="sure", **taken)

    def _own_words(self, s) -> None:
        """Words of an operation's own, by a code that is an attack, looked for and counted."""
        codes = {
            m: attack(m.__table__.c.code, "", self.sign)
            for m in (r.Taxon, r.Stage, r.Method, r.Crop)
        }
        self.texts |= {name_of(m.__table__.c.code): {code} for m, code in codes.items()}
        s.add_all(
            (
                r.Taxon(code=codes[r.Taxon], kind="pest"),
                r.Stage(code=codes[r.Stage], bits=2**61),
                r.Method(code=codes[r.Method], kind="plant", part="leaf", item="leaf"),
                r.Crop(code=codes[r.Crop]),
            )
        )
        s.flush()
        key = {"taxon": codes[r.Taxon], "stage": codes[r.Stage], "method": codes[r.Method]}
        visit = s.scalars(
            sa.select(r.Visit).where(r.Visit.state == "done").order_by(r.Visit.id.desc())
        ).first()
        self.unit = visit.unit_id
        s.add(r.Target(unit_id=visit.unit_id, from_on=scenario.FIRST, **key))
        tally = r.Tally(taxon=key["taxon"], stage=key["stage"], number=3)
        look = r.Observation(
            kind="look", walk_id=visit.walk_id, unit_id=visit.unit_id, why="sample", plants=1
        )
        look.seen_at = visit.started_at or dt.datetime.now(dt.UTC)
        look.examined = [r.Examined(method=key["method"], items=3, tallies=[tally])]
        s.add(look)
        limit = {"kind": "action", "sense": "ceiling", "value": 1, "per": "per_leaf"}
        phase = attack(r.Threshold.__table__.c.phase, "", self.sign)
        self.texts["threshold.phase"] = {phase}
        rule = {"crop": codes[r.Crop], "rule": "phase", "phase": phase, "from_on": scenario.FIRST}
        s.add(r.Threshold(source="own", **rule, **key, **limit))

    def _said_by_a_phone(self) -> list[str]:
        """What a phone says and the records do not take: its answers."""
        with writing(self.engine, self.operation) as s:
            phone = devices.pair(s, devices.offer_pairing(s).secret, "phone").device
            scout = str(s.scalars(sa.select(r.Person.id).where(r.Person.role == "scout")).first())
            unit, told = str(self.unit), Told(SHORT, None)
        said = {"id": str(r.uuid7()), "rev": 1, "base": 0, "by": scout, "offset_s": None}
        said |= {"seen_at": dt.datetime.now(dt.UTC).isoformat(), "void": None}
        body = {"unit_id": unit, "colour": "red", "reason": "thrips", "position": None}
        items = [
            said | {"kind": "flag", "body": body},
            said | {"kind": "flag", "body": body | {"reason": HEADS[4] + BODY}},
            said | {"kind": f"{HEADS[4]}{BODY}", "body": body, "id": str(r.uuid7())},
            said | {"kind": "flag", "body": body | {BODY: BODY}, "id": str(r.uuid7())},
            said | {"kind": "walk", "body": BODY, "id": BODY},
        ]
        return [a.answer for a in take(self.engine, self.operation, phone, items, told=told)]

    def _plant(self, s, model: type[Base], column: sa.Column) -> None:
        """The newest rows of a column, each with another beginning."""
        term = issubclass(model, Term)  # their ids are made anew, in no order
        keys = (model.code,) if term else sa.inspect(model).primary_key
        looked_for = r.Target.__table__.c.get(column.table.name)
        # what plans look for is on the pages; a check may ask for a text, or for none
        used = () if looked_for is None or not term else (model.code.not_in(sa.select(looked_for)),)
        order = (*used, column.is_(None), *(k.desc() for k in keys))
        rows = s.scalars(sa.select(model).order_by(*order).limit(EACH)).all()
        own = self.texts.get(f"{column.table.name}.code", set())
        rows = [row for row in rows if getattr(row, "code", None) not in own]
        make = document if isinstance(column.type, sa.JSON) else attack
        for row, head in zip(rows, cycle(HEADS), strict=False):
            setattr(row, column.key, make(column, head, self.sign))
        s.flush()
        self.texts[name_of(column)] = {
            attack(column, head, self.sign) for head in HEADS[: len(rows)]
        }
