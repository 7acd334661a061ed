"""What a foreign key or a check cannot say, said as triggers: one row a rule, both databases.

A rule names a table, the moment, the events, the state that must not be, and the sentence a
person reads. ``{row}`` is NEW, or OLD for a delete; ``{op}`` is the operation of that row.
Conditions are plain SQL over current rows and the ledger.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from sqlalchemy import Table

from benchwalk.records.base import Base


class Rule(NamedTuple):
    name: str
    table: str
    moment: str
    events: str
    never: str
    sentence: str


NEWEST = "SELECT max(l.rev) FROM ledger l WHERE l.operation_id = {op} AND l.id = "
LIFE = "(w.walk_on < u.opened_on OR w.walk_on >= u.closed_on)"
WALKED = (
    "EXISTS (SELECT 1 FROM visit v"
    " JOIN walk w ON w.operation_id = v.operation_id AND w.id = v.walk_id"
    " JOIN unit u ON u.operation_id = v.operation_id AND u.id = v.unit_id"
    " WHERE v.operation_id = {op} AND "
)
AREA = """EXISTS (SELECT 1 FROM planting me
 JOIN planting p ON p.operation_id = me.operation_id AND p.unit_id = me.unit_id
 JOIN phase d ON d.operation_id = p.operation_id AND d.planting_id = p.id
 WHERE me.operation_id = {op} AND me.id = {row}.planting_id AND d.from_on >= {row}.from_on
 AND 100 < (SELECT sum(f.area_percent) FROM planting q
  JOIN phase f ON f.operation_id = q.operation_id AND f.planting_id = q.id
  WHERE q.operation_id = p.operation_id AND q.unit_id = p.unit_id AND f.from_on = (
   SELECT max(g.from_on) FROM phase g WHERE g.operation_id = q.operation_id
   AND g.planting_id = q.id AND g.from_on <= d.from_on)))"""
SHORT = """EXISTS (SELECT 1 FROM movement o WHERE o.operation_id = {op} AND o.from_id = {p} AND
 (SELECT coalesce(sum(i.plants), 0) FROM movement i
  WHERE i.operation_id = {op} AND i.to_id = {p} AND i.moved_on <= o.moved_on) <
 (SELECT coalesce(sum(i.plants), 0) FROM movement i
  WHERE i.operation_id = {op} AND i.from_id = {p} AND i.moved_on <= o.moved_on))"""


def _short(*plantings: str) -> str:
    return " OR ".join(SHORT.replace("{p}", p) for p in plantings)


def _seen(column: str) -> str:
    return (
        f"(SELECT o.{column} FROM observation o"
        " WHERE o.operation_id = {op} AND o.id = {row}.observation_id)"
    )


def _redrawn(*columns: str) -> str:
    """A value that stood there is another, or gone; a blank may be filled in once."""
    return " OR ".join(
        f"(OLD.{c} IS NOT NULL AND (NEW.{c} IS NULL OR NEW.{c} <> OLD.{c}))" for c in columns
    )


RULES = [
    Rule(
        "ledger_kept", "ledger", "BEFORE", "UPDATE DELETE", "1 = 1", "the ledger is never changed"
    ),
    Rule(
        "kept",
        "account_event",
        "BEFORE",
        "UPDATE DELETE",
        "1 = 1",
        "what was done with accounts is never changed",
    ),
    Rule(
        "ledger_order",
        "ledger",
        "BEFORE",
        "INSERT",
        "NEW.seq <> 1 + coalesce((SELECT max(l.seq) FROM ledger l WHERE l.operation_id = {op}), 0)",
        "the ledger has no gaps",
    ),
    Rule(
        "ledger_rev",
        "ledger",
        "BEFORE",
        "INSERT",
        "EXISTS (SELECT 1 FROM ledger l WHERE l.operation_id = {op} AND l.id = NEW.id"
        " AND (l.rev >= NEW.rev OR l.kind <> NEW.kind))",
        "a newer or equal rev is already in the ledger",
    ),
    Rule(
        "unit_redrawn",
        "unit",
        "BEFORE",
        "UPDATE",
        f"({_redrawn('x_m', 'y_m', 'width_m', 'length_m', 'level', 'kind', 'house_id')})"
        " AND (EXISTS (SELECT 1 FROM visit v"
        " WHERE v.operation_id = {op} AND v.unit_id = OLD.id)"
        " OR EXISTS (SELECT 1 FROM planting p"
        " WHERE p.operation_id = {op} AND p.unit_id = OLD.id))",
        "a unit is never redrawn: close it and open its successor",
    ),
    Rule(
        "unit_succession",
        "unit",
        "AFTER",
        "INSERT UPDATE",
        "EXISTS (SELECT 1 FROM unit p WHERE p.operation_id = {op} AND p.id = NEW.predecessor_id"
        " AND (p.closed_on IS NULL OR p.closed_on > NEW.opened_on))",
        "a successor opens when its predecessor is closed",
    ),
    Rule(
        "unit_life",
        "unit",
        "AFTER",
        "UPDATE",
        WALKED + "u.id = NEW.id AND " + LIFE + ")",
        "the unit was walked on a day outside this life",
    ),
    Rule(
        "walk_life",
        "walk",
        "AFTER",
        "UPDATE",
        WALKED + "w.id = NEW.id AND " + LIFE + ")",
        "a unit of this walk did not live on that day",
    ),
    Rule(
        "visit_life",
        "visit",
        "AFTER",
        "INSERT UPDATE",
        WALKED + "v.id = NEW.id AND " + LIFE + ")",
        "the unit did not live on the day of this walk",
    ),
    Rule(
        "visit_skipped",
        "visit",
        "AFTER",
        "UPDATE",
        "NEW.state = 'skipped' AND EXISTS (SELECT 1 FROM observation o"
        " WHERE o.operation_id = {op} AND o.walk_id = NEW.walk_id AND o.unit_id = NEW.unit_id)",
        "a unit with looks was not skipped",
    ),
    Rule(
        "observation_skipped",
        "observation",
        "AFTER",
        "INSERT UPDATE",
        "EXISTS (SELECT 1 FROM visit v WHERE v.operation_id = {op}"
        " AND v.walk_id = NEW.walk_id AND v.unit_id = NEW.unit_id AND v.state = 'skipped')",
        "a skipped unit has no looks",
    ),
    Rule(
        "observation_planting",
        "observation",
        "AFTER",
        "INSERT UPDATE",
        "EXISTS (SELECT 1 FROM planting p WHERE p.operation_id = {op}"
        " AND p.id = NEW.planting_id AND p.unit_id <> NEW.unit_id)",
        "the planting is in another unit",
    ),
    Rule(
        "observation_card",
        "observation",
        "AFTER",
        "INSERT UPDATE",
        "EXISTS (SELECT 1 FROM card c"
        " JOIN station s ON s.operation_id = c.operation_id AND s.id = c.station_id"
        " WHERE c.operation_id = {op} AND c.id = NEW.card_id"
        " AND (s.unit_id <> NEW.unit_id OR NEW.seen_at < c.hung_at OR NEW.seen_at > c.taken_at))",
        "the card hangs in another unit or did not hang then",
    ),
    Rule(
        "examined_card",
        "examined",
        "BEFORE",
        "INSERT UPDATE",
        _seen("state") + " IN ('missing', 'fallen', 'unreadable')",
        "a card that could not be read has no counts",
    ),
    Rule(
        "examined_method",
        "examined",
        "BEFORE",
        "INSERT UPDATE",
        "EXISTS (SELECT 1 FROM observation o"
        " JOIN method x ON x.operation_id = o.operation_id AND x.code = NEW.method"
        " LEFT JOIN card c ON c.operation_id = o.operation_id AND c.id = o.card_id"
        " WHERE o.operation_id = {op} AND o.id = NEW.observation_id"
        " AND ((o.kind = 'reading') <> (x.kind IN ('card', 'disc', 'trap'))"
        " OR c.method <> NEW.method))",
        "a look has a plant''s method, a reading that of its card",
    ),
    Rule(
        "tally_infested",
        "tally",
        "BEFORE",
        "INSERT UPDATE",
        "NEW.infested > " + _seen("plants"),
        "more plants infested than inspected",
    ),
    Rule(
        "tally_full",
        "tally",
        "BEFORE",
        "INSERT UPDATE",
        "NEW.how = 'counted' AND NEW.number > 0 AND " + _seen("state") + " = 'full'",
        "a full card is counted as at least",
    ),
    Rule(
        "tally_overlap",
        "tally",
        "BEFORE",
        "INSERT",
        "EXISTS (SELECT 1 FROM tally t"
        " JOIN stage a ON a.operation_id = t.operation_id AND a.code = t.stage"
        " JOIN stage b ON b.operation_id = t.operation_id AND b.code = NEW.stage"
        " WHERE t.operation_id = {op} AND t.observation_id = NEW.observation_id"
        " AND t.method = NEW.method AND t.taxon = NEW.taxon AND t.stage <> NEW.stage"
        " AND (a.bits & b.bits) <> 0)",
        "this stage overlaps one already tallied here",
    ),
    Rule(
        "planting_place",
        "planting",
        "AFTER",
        "INSERT UPDATE",
        "EXISTS (SELECT 1 FROM unit u WHERE u.operation_id = {op}"
        " AND u.id = NEW.unit_id AND u.kind <> 'unit')",
        "a place has no plantings",
    ),
    Rule(
        "planting_stays",
        "planting",
        "BEFORE",
        "UPDATE",
        "OLD.unit_id <> NEW.unit_id",
        "plants change units by a movement",
    ),
    Rule(
        "phase_area",
        "phase",
        "AFTER",
        "INSERT UPDATE DELETE",
        AREA,
        "plantings share more than 100 % of the unit",
    ),
    Rule(
        "movement_short",
        "movement",
        "AFTER",
        "INSERT",
        _short("NEW.from_id"),
        "more plants leave than are there",
    ),
    Rule(
        "movement_short",
        "movement",
        "AFTER",
        "UPDATE",
        _short("NEW.from_id", "NEW.to_id", "OLD.from_id", "OLD.to_id"),
        "more plants leave than are there",
    ),
    Rule(
        "movement_short",
        "movement",
        "AFTER",
        "DELETE",
        _short("OLD.to_id"),
        "more plants leave than are there",
    ),
]


def _of_record(name: str) -> list[Rule]:
    return [
        Rule(
            "newest",
            name,
            "AFTER",
            "INSERT UPDATE",
            "NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = {op} AND k.id = NEW.id"
            f" AND k.rev = NEW.rev AND k.kind = '{name}' AND k.void_reason IS NULL"
            f" AND k.rev = ({NEWEST}NEW.id))",
            "this is not the newest word of the ledger",
        ),
        Rule(
            "forward",
            name,
            "BEFORE",
            "UPDATE",
            "NEW.rev <= OLD.rev OR NEW.id <> OLD.id OR NEW.operation_id <> OLD.operation_id",
            "a record changes only by a higher rev",
        ),
        Rule(
            "void",
            name,
            "BEFORE",
            "DELETE",
            "NOT EXISTS (SELECT 1 FROM ledger k WHERE k.operation_id = {op} AND k.id = OLD.id"
            " AND k.rev > OLD.rev AND k.void_reason IS NOT NULL)",
            "a record is voided in the ledger, never deleted",
        ),
    ]


def _of_line(name: str, owner: str, column: str) -> list[Rule]:
    return [
        Rule(
            "with_owner",
            name,
            "BEFORE",
            "INSERT UPDATE",
            f"NEW.rev <> (SELECT o.rev FROM {owner} o"
            f" WHERE o.operation_id = {{op}} AND o.id = NEW.{column})",
            "a line has the rev of its record",
        ),
        Rule(
            "forward",
            name,
            "BEFORE",
            "UPDATE",
            "NEW.rev <= OLD.rev",
            "a line changes only with its record",
        ),
        Rule(
            "superseded",
            name,
            "BEFORE",
            "DELETE",
            f"OLD.rev >= ({NEWEST}OLD.{column})",
            "a line goes only with a newer rev of its record",
        ),
    ]


def kept(table: Table) -> list[Rule]:
    """The rules that every record and every line obeys."""
    if table.info.get("kind") == "record":
        return _of_record(table.name)
    if table.info.get("kind") == "line":
        return _of_line(table.name, *table.info["owner"])
    return []


def _trigger(rule: Rule, event: str, dialect: str) -> Iterator[str]:
    row = "OLD" if event == "DELETE" else "NEW"
    never = rule.never.replace("{row}", row).replace("{op}", f"{row}.operation_id")
    name = f"{rule.table}_{rule.name}_{event.lower()}"
    if dialect == "sqlite":
        yield (
            f"CREATE TRIGGER {name} {rule.moment} {event} ON {rule.table} WHEN {never}\n"
            f"BEGIN SELECT RAISE(ABORT, '{rule.sentence}'); END"
        )
        return
    yield (
        f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN\n"
        f"IF {never} THEN RAISE EXCEPTION '%', '{rule.sentence}'"
        f" USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN {row}; END $$"
    )
    yield (
        f"CREATE TRIGGER {name} {rule.moment} {event} ON {rule.table}"
        f" FOR EACH ROW EXECUTE FUNCTION {name}()"
    )


def _row_level_security() -> Iterator[str]:
    """The second wall on PostgreSQL; the server must not connect as the tables' owner."""
    for table in Base.metadata.sorted_tables:
        if "operation_id" in table.c:
            yield f"ALTER TABLE {table.name} ENABLE ROW LEVEL SECURITY"
            yield (
                f"CREATE POLICY own ON {table.name} USING"
                " (operation_id = current_setting('benchwalk.operation')::smallint)"
            )


def statements(dialect: str) -> list[str]:
    """The SQL of every rule for ``sqlite`` or ``postgresql``, as the models now stand.

    A migration holds its own frozen copy of this.
    """
    rules = RULES + [r for t in Base.metadata.sorted_tables for r in kept(t)]
    out = [sql for r in rules for event in r.events.split() for sql in _trigger(r, event, dialect)]
    if dialect == "postgresql":
        out += _row_level_security()
        out += [
            "CREATE FUNCTION ledger_kept_truncate() RETURNS trigger LANGUAGE plpgsql AS"
            " $$ BEGIN RAISE EXCEPTION 'the ledger is never changed'; END $$",
            "CREATE TRIGGER ledger_kept_truncate BEFORE TRUNCATE ON ledger"
            " EXECUTE FUNCTION ledger_kept_truncate()",
        ]
    return out
