"""Putting a reading of a sheet into an operation: all of it, or nothing.

Ids are made from what a row says (operation, unit, day, plant ...), so the same sheet names its
records alike every time: what is there already is found, not added twice; what is there with
another count is told to a person and never written over.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from sqlalchemy import RowMapping, select

from benchwalk.records.ledger import Ledgered, batches, write_in_order, write_new
from benchwalk.records.places import Station, Unit
from benchwalk.records.plain import Plain
from benchwalk.records.seen import Card, Examined, Observation, Tally
from benchwalk.records.sheets.found import At, Count, Reading, Treatment
from benchwalk.records.sheets.ground import Ground, LandingRefusedError, Seen
from benchwalk.records.sheets.known import name_key, short_name
from benchwalk.records.treated import Application, Load, Treated
from benchwalk.records.vocabulary import Method, Stage, Taxon

__all__ = [
    "Conflict",
    "Landed",
    "LandingRefusedError",
    "Overlap",
    "keep_names",
    "land",
    "own_names",
]


TALLIED = [
    Tally.__table__.c[name]
    for name in (
        *("observation_id", "method", "taxon", "stage"),
        *("how", "number", "mean", "infested"),
    )
]
Tallies = dict[str, dict[tuple[str, str], str]]  # of one look: method, then (taxon, stage)


@dataclass(frozen=True)
class Conflict:
    """A count of the sheet that is recorded already, with another number."""

    at: At
    recorded: str
    written: str


@dataclass(frozen=True)
class Overlap:
    """A count of a stage that one already taken on the same plant holds too ("motile", "adult")."""

    at: At
    taken: str
    stage: str


@dataclass
class Landed:
    """What an import wrote, found there already, or left for a person."""

    new: int = 0
    counts: int = 0
    already_there: list[At] = field(default_factory=list)
    conflicts: list[Conflict] = field(default_factory=list)
    overlaps: list[Overlap] = field(default_factory=list)
    units_made: list[str] = field(default_factory=list)
    houses_made: list[str] = field(default_factory=list)
    treatments: int = 0
    undated: list[Treatment] = field(default_factory=list)  # without a day: remarks of their row


class Landing:
    """One sheet on its way into one operation, inside one transaction."""

    def __init__(self, session: Ledgered, reading: Reading) -> None:
        reading = _as_kept(reading)
        self.session, self.reading = session, reading
        self.ground = Ground(session, reading)
        self.methods = {m.code: m for m in session.scalars(select(Method))}
        self.bits = {s.code: s.bits for s in session.scalars(select(Stage))}
        self.remarks = _remarks(reading)
        self.fresh = self.ground.fresh
        self.looks: dict[uuid.UUID, list[Seen]] = defaultdict(list)
        self.readings: dict[uuid.UUID, list[Count]] = defaultdict(list)
        self.cards: dict[uuid.UUID, uuid.UUID] = {}  # of a reading: the card that was read
        self.more: dict[uuid.UUID, list[Count]] = defaultdict(list)  # for looks that are recorded
        self.told: set[uuid.UUID] = set()  # treatments of this sheet; two remarks may tell of one
        self.landed = Landed()

    def land(self) -> Landed:
        """Write everything the reading holds that is not there yet."""
        self.ground.lay()
        self.landed.units_made = self.ground.units_made
        self.landed.houses_made = self.ground.houses_made
        self._looks()
        self._readings()
        known = Recorded(self.session, [*self.looks, *self.readings])
        for observation, said in self._observations():
            if observation in known:
                self._beside(observation, said, known[observation])
        for treatment in self.reading.treatments:
            self._treatment(treatment)
        self._add_more()
        self.session.flush()
        self.landed.new = write_new(self.session, self.fresh)
        self.landed.new += write_in_order(self.session, self._new_observations(known))
        return self.landed

    def _is_card(self, method: str) -> bool:
        return self.methods[method].kind in ("card", "disc", "trap")

    def _looks(self) -> None:
        """Counts of one plant (or of one pooled lot of plants) on one walk are one look."""
        ids: dict[tuple[object, ...], uuid.UUID] = {}
        for s in self.ground.seen:
            if self._is_card(s.method):
                continue
            spot = self.ground.spot_of(s)
            key = spot.unit.id, s.on, spot.scout, s.plant, _plants(s), s.crop, *_apart(s)
            if key not in ids:
                ids[key] = self.ground.id_of("look", s.on, *key)
            self.looks[ids[key]].append(s)

    def _readings(self) -> None:
        """Readings of cards, discs and traps; each hung and taken as far as the sheet says."""
        stations = {s.code: s for s in self.session.scalars(select(Station))}
        cards = set(self.session.scalars(select(Card.id)))
        for c in self.reading.records:
            if not self._is_card(c.method):
                continue
            spot = self.ground.spot_of(c)
            key = spot.unit.id, c.on, spot.scout, c.station, c.method, c.hung_on, *_apart(c)
            reading = self.ground.id_of("reading", c.on, *key)
            if reading not in self.readings:
                station = self._station(c, spot.unit, stations)
                self.cards[reading] = self._card(c, station, cards)
            self.readings[reading].append(c)

    def _card(self, c: Count, station: Station, cards: set[uuid.UUID]) -> uuid.UUID:
        card_id = self.ground.id_of("card", c.on, station.id, c.method, c.hung_on)
        if card_id not in cards:
            hung = None if c.hung_on is None else self.ground.at(c.hung_on)
            said = {"station_id": station.id, "method": c.method, "hung_at": hung}
            self.fresh.append(Plain(Card, id=card_id, **said, taken_at=self.ground.at(c.on)))
            cards.add(card_id)
        return card_id

    def _station(self, c: Count, unit: Unit, stations: dict[str, Station]) -> Station:
        """The card's place; one for each unit and method where the sheet names none."""
        full = " / ".join(n for n in (c.house, short_name(c.house, c.unit)) if n)
        code = c.station or f"{full} / {c.method}"
        station = stations.get(code)
        if station is None:
            station = Station(
                id=self.ground.id_of("station", c.on, unit.id, code),
                unit_id=unit.id,
                code=code,
                kind=self.methods[c.method].kind,
                role="interior",
                opened_on=c.on,
            )
            stations[code] = station
            self.fresh.append(station)
        elif c.on < station.opened_on:
            station.opened_on = c.on
        return station

    def _observations(self) -> Iterator[tuple[uuid.UUID, Sequence[Seen]]]:
        yield from self.looks.items()
        yield from self.readings.items()

    def _new_observations(self, known: Recorded) -> Iterator[Plain]:
        """Looks, then readings, that nobody has recorded: made one by one, as they are written."""
        for look, seen in self.looks.items():
            if look not in known:
                yield self._look(look, seen)
        for reading, counts in self.readings.items():
            if reading not in known:
                yield self._reading(reading, counts)

    def _look(self, look: uuid.UUID, said: Sequence[Seen]) -> Plain:
        first = said[0]
        more = {"plants": _plants(first), "position": first.plant}
        return self._observation(
            look, "look", said, planting_id=self.ground.spot_of(first).planting, **more
        )

    def _reading(self, reading: uuid.UUID, said: Sequence[Count]) -> Plain:
        card = {"card_id": self.cards[reading], "since": "hung", "counted": "all", "state": "ok"}
        return self._observation(reading, "reading", said, plants=0, **card)

    def _observation(
        self, observation: uuid.UUID, kind: str, said: Sequence[Seen], **more: Any
    ) -> Plain:
        spot = self.ground.spot_of(said[0])
        return Plain(
            Observation,
            id=observation,
            kind=kind,
            walk_id=spot.walk,
            unit_id=spot.unit.id,
            seen_at=self.ground.at(spot.on, _clock(said[0]) if kind == "look" else None),
            why="sample",
            why_assumed=True,
            note=self._note(said),
            examined=self._examined(said),
            **more,
        )

    def _note(self, said: Sequence[Seen]) -> str | None:
        rows = dict.fromkeys(_line(s.at) for s in said)
        texts = sorted(r for row in rows for r in self.remarks.get(row, ()))
        return "\n".join(dict.fromkeys(text for _, text in texts)) or None

    def _examined(self, said: Sequence[Seen]) -> list[Plain]:
        """Effort first, then the tallies on it."""
        counts: dict[str, list[Count]] = {}
        for s in said:
            of_method = counts.setdefault(s.method, [])
            if isinstance(s, Count):
                of_method.append(s)
        return [
            Plain(Examined, method=method, tallies=self._tallies(held), **_effort(held))
            for method, held in counts.items()
        ]

    def _tallies(self, counts: Sequence[Count]) -> list[Plain]:
        taken: list[tuple[str, str]] = []
        tallies = []
        for c in counts:
            if self._fits(taken, c):
                taken.append((c.taxon, c.stage))
                tallies.append(Plain(Tally, **_tally(c)))
        self.landed.counts += len(tallies)
        return tallies

    def _fits(self, taken: Iterable[tuple[str, str]], c: Count) -> bool:
        """Whether a count may stand beside others, or would count an animal twice."""
        for taxon, stage in taken:
            if taxon == c.taxon and stage != c.stage and self.bits[stage] & self.bits[c.stage]:
                self.landed.overlaps.append(Overlap(c.at, stage, c.stage))
                return False
        return True

    def _beside(self, observation: uuid.UUID, said: Sequence[Seen], there: Tallies) -> None:
        """Counts for a look that is recorded: already there, another number, or one more."""
        for s in said:
            if not isinstance(s, Count):
                self.landed.already_there.append(s.at)
                continue
            tallies, mine = there.setdefault(s.method, {}), _said(_tally(s))
            recorded = tallies.get((s.taxon, s.stage))
            if recorded == mine:
                self.landed.already_there.append(s.at)
            elif recorded is not None:
                self.landed.conflicts.append(Conflict(s.at, recorded, s.raw))
            elif self._fits(tallies, s):
                tallies[s.taxon, s.stage] = mine
                self.more[observation].append(s)
                self.landed.counts += 1

    def _add_more(self) -> None:
        """One more pest on a plant that is recorded: a higher rev of that look, in batches."""
        for ids in batches(self.more):
            # held until they are written: the session alone would let go of them and read again
            looks = self.session.scalars(select(Observation).where(Observation.id.in_(ids))).all()
            for there in looks:
                for c in self.more[there.id]:
                    _add(there, c)
            self.session.flush()

    def _treatment(self, t: Treatment) -> None:
        """A treatment in the words of the sheet; only its day is known. Without one: a remark."""
        if t.on is None:
            self.landed.undated.append(t)
            return
        units = [self.ground.unit_of(t.house, name) for name in t.units]
        application_id = self.ground.id_of(
            "application", t.on, t.kind, t.active or t.what, *sorted(str(u.id) for u in units)
        )
        held = self.session.get(Application, (self.ground.operation.id, application_id))
        if held is not None or application_id in self.told:
            self.landed.already_there.append(t.at)
            return
        self.told.add(application_id)
        treated = [Treated(unit_id=u.id) for u in units]
        noon = self.ground.at(t.on)
        load = Load(n=1, started_at=noon, ended_at=noon, precision="day", treated=treated)
        self.fresh.append(
            Application(
                id=application_id,
                kind=_kind_of_work(t),
                what=t.what or t.raw,
                active=t.active,
                note=t.raw,
                loads=[load],
            )
        )
        self.landed.treatments += 1


def _line(at: At) -> Hashable:
    """What was said together: a row, or of a table with its days across a column."""
    return at.line or (at.sheet, at.row)


def _as_kept(reading: Reading) -> Reading:
    """Means per leaf or flower are of another method than those per plant, and never meet them."""
    return replace(
        reading,
        records=tuple(
            replace(c, method=PART_METHODS.get(c.sampling_unit, c.method))
            if c.method == "plant_count" and c.sampling_unit != "plant"
            else c
            for c in reading.records
        ),
    )


PART_METHODS = {"leaf": "leaf_count", "leaflet": "leaf_count", "flower": "flower_count"}


def _kind_of_work(t: Treatment) -> str:
    """The kind that records know: work in the crop is weeding, or else cleaning."""
    if t.kind != "cultural":
        return t.kind
    return "weed" if t.what == "weeding" else "clean"


class Recorded:
    """What is recorded already of some looks and readings, in few signs."""

    def __init__(self, session: Ledgered, ids: Iterable[uuid.UUID]) -> None:
        self.held: dict[uuid.UUID, Tallies] = {}
        for some in batches(ids):
            there = session.scalars(select(Observation.id).where(Observation.id.in_(some)))
            self.held.update((i, {}) for i in there)
        for some in batches(self.held):
            tallied = select(*TALLIED).where(Tally.observation_id.in_(some))
            for t in session.execute(tallied).mappings():
                tallies = self.held[t["observation_id"]].setdefault(t["method"], {})
                tallies[t["taxon"], t["stage"]] = _said(t)

    def __contains__(self, observation: uuid.UUID) -> bool:
        return observation in self.held

    def __getitem__(self, observation: uuid.UUID) -> Tallies:
        return self.held[observation]


def _remarks(reading: Reading) -> dict[Hashable, list[tuple[int, str]]]:
    """Texts that stay with the looks of their row, numbered in the order they are kept."""
    unclear = [r for r in reading.rejects if r.reason == "treatment_incomplete"]
    texts = [
        *((n.at, n.text) for n in reading.notes),
        *((t.at, t.raw) for t in reading.treatments if t.on is None),
        *((r.at, r.raw) for r in unclear),
    ]
    held = defaultdict(list)
    for number, (at, text) in enumerate(texts):
        held[_line(at)].append((number, text))
    return dict(held)


def _apart(s: Seen) -> tuple[object, ...]:
    """What makes a look of its own where a sheet says it: its leaves or flowers, its time."""
    told = (s.items, s.time) if isinstance(s, Count) else ()
    return told if any(told) else ()


def _clock(s: Seen) -> dt.time | None:
    """The time of a round; none where only the half of the day is said."""
    told = s.time if isinstance(s, Count) else None
    return dt.time.fromisoformat(told) if told and ":" in told else None


def _plants(s: Seen) -> int | None:
    """How many plants were looked at; for infested 4 of 25 those 25."""
    return s.of if isinstance(s, Count) and s.how == "infested" else s.plants


def _effort(counts: Sequence[Count]) -> dict[str, int | None]:
    """Squares counted and printed, as the first count says it."""
    if not counts:
        return {}
    first = counts[0]
    return {"items": first.items or first.squares_counted, "of_items": first.squares_printed}


def _add(there: Observation, c: Count) -> None:
    examined = next((e for e in there.examined if e.method == c.method), None)
    if examined is None:
        examined = Examined(method=c.method, tallies=[])
        there.examined.append(examined)
    examined.tallies.append(Tally(**_tally(c)))


def _tally(c: Count) -> dict[str, Any]:
    """How a count of a sheet is kept: infested 4 of 25 is "present" on 4 plants of the look."""
    said = {"taxon": c.taxon, "stage": c.stage, "how": c.how}
    numbers: dict[str, Any] = {"number": None, "mean": None, "infested": None}
    if c.how == "density":
        return said | numbers | {"mean": c.value}
    value = None if c.value is None else int(c.value)
    if c.how != "infested":
        return said | numbers | {"number": value}
    how, number = ("counted", 0) if value == 0 else ("present", None)
    return said | numbers | {"how": how, "number": number, "infested": value}


def _said(t: Mapping[str, Any] | RowMapping) -> str:
    """A tally in few signs: what two of one key must share to be the same."""
    if t["infested"] is not None:
        return f"{t['infested']} infested"
    if t["how"] == "density":
        return f"mean {t['mean']:g}"
    if t["how"] == "present":
        return "present"
    return f"at least {t['number']}" if t["how"] == "at_least" else str(t["number"])


def land(session: Ledgered, reading: Reading) -> Landed:
    """Write a reading into the session's operation; the caller commits, or rolls all of it back.

    Raises
    ------
    LandingRefusedError
        if the sheet contradicts what is recorded; nothing is kept then.
    """
    return Landing(session, reading).land()


def keep_names(session: Ledgered, names: dict[str, str]) -> int:
    """Words a person agreed to (word -> taxon), kept as the operation's own; how many were new.

    A word that a person said is none of the taxa is not kept.
    """
    new = 0
    for word, code in sorted(names.items()):
        taxon = session.scalars(select(Taxon).where(Taxon.code == code)).one_or_none()
        if taxon is None:
            continue
        own = list(taxon.names.get("own", []))
        if name_key(word) not in {name_key(w) for w in own}:
            taxon.names = taxon.names | {"own": [*own, word]}
            new += 1
    return new


def own_names(session: Ledgered) -> dict[str, str]:
    """The operation's own words for pests and enemies: word -> taxon."""
    return {
        word: taxon.code
        for taxon in session.scalars(select(Taxon))
        for word in taxon.names.get("own", [])
    }
