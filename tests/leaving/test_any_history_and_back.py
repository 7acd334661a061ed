"""Whatever was said, corrected, taken back and refused: all of it leaves and comes back the same.

The oracle is the database itself: every row of every table, and the end of the chain.
"""

import datetime as dt
import shutil

import pytest
import sqlalchemy as sa
from hypothesis import given, settings
from hypothesis import strategies as st

import benchwalk.records as r
from benchwalk.records.chain import check
from benchwalk.records.database import open_database
from benchwalk.records.exports.adopt import adopt
from benchwalk.records.exports.full import write_full
from benchwalk.records.exports.moment import moment
from tests.leaving.every_row import rows
from tests.records.small_operation import NINE, SmallOperation

EXAMPLES = 12  # own choice: within a few seconds
DAY = dt.timedelta(days=1)
STAGES = ("egg", "larva", "adult")


class History(SmallOperation):
    """Steps that a season is made of; each takes the numbers it is given as it can."""

    def __init__(self, engine):
        super().__init__(engine)
        self.looks, self.plantings, self.said = [], [], 0

    def looked(self, n, text):
        walk, _ = self.walk(on=NINE.date() + n % 50 * DAY)
        counted = [("thrips", stage, n % (9 + k)) for k, stage in enumerate(STAGES[: n % 4])]
        self.looks.append(self.look(walk, tallies=counted, note=text or None))

    def looked_and_found_so_many_at_least_or_only_present(self, n, text):
        walk, _ = self.walk(unit=self.unit2)
        how = ({"how": "at_least", "number": 1 + n}, {"how": "present"}, {"how": "density"})[n % 3]
        how |= {"mean": n / 7} if how["how"] == "density" else {}
        tally = r.Tally(taxon="thrips", stage="motile", **how)
        examined = [r.Examined(method="leaf_count", items=1 + n, tallies=[tally])]
        self.looks.append(self.look(walk, unit=self.unit2, examined=examined))

    def did_not_look(self, n, text):
        self.walk(on=NINE.date() + n % 50 * DAY, state="skipped", reason=("sign", "closed")[n % 2])

    def corrected(self, n, text):
        if self.looks:
            look = self.looks[n % len(self.looks)]
            look.note, look.plants = text or None, 1 + n
            look.examined[0].tallies = []
            self.s.commit()
            look.examined[0].tallies = [r.Tally(taxon="thrips", stage="motile", number=n)]
            self.s.commit()

    def took_back(self, n, text):
        if self.looks:
            self.s.info["void_reason"] = text or "mistaken"
            self.s.delete(self.looks.pop(n % len(self.looks)))
            self.s.commit()
            del self.s.info["void_reason"]

    def planted_and_moved(self, n, text):
        phases = [r.Phase(from_on=dt.date(2026, 2, 1), phase="rooting", area_percent=0.5)]
        planting = self.add(r.Planting(unit_id=self.unit.id, crop="pansy", phases=phases))
        came = {"kind": "receive", "to_id": planting.id, "plants": 1 + n}
        self.add(r.Movement(moved_on=dt.date(2026, 2, 1), **came))
        self.plantings.append(planting)

    def saw(self, n, text):
        where = {"unit_id": self.unit.id, "seen_at": NINE + n * DAY}
        self.add(r.Sighting(cause="not_known", words=text, **where))

    def was_refused(self, n, text):
        """A whole post that breaks a rule leaves nothing, in the ledger neither."""
        self.s.add(r.Movement(kind="ship", moved_on=NINE.date(), from_id=r.uuid7(), plants=1))
        with pytest.raises(sa.exc.IntegrityError, match="more plants leave than are there"):
            self.s.commit()
        self.s.rollback()

    def somebody_came_or_was_renamed(self, n, text):
        self.said += 1
        person = {"id": r.uuid7(), "pseudonym": f"p{self.said}", "name": text or None}
        row = person | {"operation_id": self.n, "role": "scout"}
        self.s.execute(sa.insert(r.Person).values(row))
        self.s.commit()
        self.s.info["by_id"] = person["id"]


STEPS = sorted(name for name, f in vars(History).items() if callable(f) and name[0] != "_")
TEXT = st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=12)
SAID = st.lists(st.tuples(st.sampled_from(STEPS), st.integers(0, 99), TEXT), max_size=12)


@settings(max_examples=EXAMPLES)
@given(SAID)
def test_any_history_is_taken_up_row_by_row(sqlite_template, tmp_path_factory, steps):
    folder = tmp_path_factory.mktemp("history")
    here, there = (_copied(sqlite_template, folder / f"{name}.sqlite") for name in "ab")
    o = History(here)
    for name, n, text in steps:
        getattr(o, name)(n, text)
    (folder / "full").mkdir()
    with moment(here, o.n) as s:
        write_full(s, folder / "full")
    done = adopt(there, folder / "full")
    assert rows(there, done.operation) == rows(here, o.n)
    with there.connect() as c:
        whole = check(c, done.operation)
    with here.connect() as c:
        assert whole.head == check(c, o.n).head
    assert whole.faults == ()
    o.s.close()
    here.dispose()
    there.dispose()
    shutil.rmtree(folder)


def test_a_line_said_anew_under_its_old_key_takes_its_defaults(sqlite_template, tmp_path):
    """At least 50 corrected to 7: the row says *counted*, as the ledger does."""
    engine = _copied(sqlite_template, tmp_path / "a.sqlite")
    o = History(engine)
    walk, _ = o.walk()
    said = {"taxon": "thrips", "stage": "motile"}
    many = r.Tally(**said, how="at_least", number=50)
    look = o.look(walk, examined=[r.Examined(method="leaf_count", items=1, tallies=[many])])
    look.examined[0].tallies = [r.Tally(**said, number=7)]
    o.s.commit()
    last = sa.select(r.Ledger.body).order_by(r.Ledger.seq.desc()).limit(1)
    assert '"how":"counted","number":7' in o.s.scalars(last).one()
    assert o.s.execute(sa.text("SELECT how, number FROM tally")).all() == [("counted", 7)]
    o.s.close()
    engine.dispose()


def _copied(template, file):
    shutil.copy(template, file)
    return open_database(f"sqlite:///{file}")
