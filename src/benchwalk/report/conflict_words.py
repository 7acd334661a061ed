"""What phones said and the records could not take, in words: a list, and two versions of one."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from benchwalk.catalogue import say, strings
from benchwalk.records import Aside
from benchwalk.records.queries.looks import Said
from benchwalk.records.refused import words_of
from benchwalk.records.sync.settling import Waiting
from benchwalk.report.figures import capital, moment, shown
from benchwalk.report.ledger_words import body_words
from benchwalk.report.record_words import kind_words

BROKEN_RULE, MALFORMED = "broken_rule", "malformed"


@dataclass(frozen=True)
class Line:
    """One thing put aside; ``settled`` is "" while it waits."""

    n: int
    what: str
    when: str
    phone: str
    why: str
    detail: str
    settled: str


@dataclass(frozen=True)
class Row:
    """One field of both versions; None where a version does not say it."""

    name: str
    there: str | None
    sent: str | None

    @property
    def differs(self) -> bool:
        """Whether the two say different things."""
        return self.there != self.sent


@dataclass(frozen=True)
class Way:
    """One way to settle it."""

    code: str
    label: str
    what: str


@dataclass(frozen=True)
class Two:
    """One thing put aside beside what the records say of it; ``there`` is "" where they do not."""

    line: Line
    record: str
    sent: str
    there: str
    rows: tuple[Row, ...]
    raw: str
    ways: tuple[Way, ...]


@dataclass(frozen=True)
class Words:
    """How things put aside are said; ``names`` has words for ids and codes."""

    names: Mapping[str, str]
    zone: ZoneInfo
    locale: str

    def line(self, held: Waiting) -> Line:
        """A row of the list."""
        row = held.row
        return Line(
            n=row.n,
            what=self._what(row, held),
            when=moment(row.received_at, self.zone, self.locale),
            phone=self.phone(row),
            why=self._why(held.why),
            detail=self._detail(held),
            settled=self._settled(row),
        )

    def phone(self, row: Aside) -> str:
        """The label of the phone it came from."""
        if row.device_id is None:
            return say("conflict.nobodys_phone", self.locale)
        return shown(self.names.get(str(row.device_id), str(row.device_id)))

    def two(self, held: Waiting, there: Said | None) -> Two:
        """Both versions, field by field."""
        sent = self._body(held.said)
        now = {} if there is None else self._body(json.loads(there.body))
        names = dict.fromkeys((*now, *sent))
        rows = [Row(name, now.get(name), sent.get(name)) for name in names]
        return Two(
            line=self.line(held),
            record="" if there is None else str(there.id),
            sent=self._who_sent(held),
            there="" if there is None else self._who_said(there),
            rows=tuple(sorted(rows, key=lambda row: not row.differs)),  # what differs comes first
            raw=" ".join(filter(None, (shown(held.detail), shown(held.row.body)))),
            ways=tuple(
                Way(code, say(f"conflict.way_{code}", self.locale), self._meaning(code))
                for code in held.ways
            ),
        )

    def _body(self, body: Mapping[str, Any]) -> dict[str, str]:
        return body_words(body, self.zone, self.names, self.locale)

    def _meaning(self, code: str) -> str:
        return say(f"conflict.way_{code}_what", self.locale)

    def _what(self, row: Aside, held: Waiting) -> str:
        kind = kind_words(row.kind, self.locale, held.said)
        unit = self.names.get(str(held.said.get("unit_id")))
        return kind if unit is None else f"{kind}, {shown(unit)}"

    def _why(self, why: str) -> str:
        key = f"conflict.why_{why}"
        return say(key, self.locale) if key in strings() else shown(why)

    def _detail(self, held: Waiting) -> str:
        """Which rule, or which field; what else a program said stands with the letters."""
        if held.why == BROKEN_RULE and held.detail:
            return shown(capital(words_of(held.detail).said(self.locale)) + ".")
        field = held.detail.split(": ")[1:2] if held.why == MALFORMED else []
        return say("conflict.field", self.locale, field=shown(field[0])) if field else ""

    def _settled(self, row: Aside) -> str:
        if row.settled_at is None:
            return ""
        return say(
            "conflict.settled_by",
            self.locale,
            how=say(f"conflict.was_{row.settled_how}", self.locale),
            person=shown(self.names.get(str(row.settled_by_id), "?")),
            when=moment(row.settled_at, self.zone, self.locale),
        )

    def _who_sent(self, held: Waiting) -> str:
        if held.item is None:
            return self.phone(held.row)
        who = shown(self.names.get(str(held.item.by), str(held.item.by)))
        said = [who, self.phone(held.row), moment(held.item.seen_at, self.zone, self.locale)]
        if held.item.void is not None:
            said.append(say("conflict.gone", self.locale, reason=shown(held.item.void)))
        return ", ".join(said)

    def _who_said(self, there: Said) -> str:
        parts: Sequence[str | None] = (there.by, there.device)
        said = [shown(part) for part in parts if part is not None]
        said.append(moment(there.seen_at, self.zone, self.locale))
        if there.void_reason is not None:
            said.append(say("conflict.gone", self.locale, reason=shown(there.void_reason)))
        return ", ".join(said)
