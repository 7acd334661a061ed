"""Every page there is to look at: where it stands, who opens it, what is done there first.

`PAGES` names a page for each GET route of the app that shows one, some in several states;
`unseen` says which routes have none. Pictures (`tools/pictures.py`) and the tests of layout
(`tests/web/test_every_page_in_a_browser.py`) walk through the same list.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from fastapi import APIRouter
from fastapi.routing import APIRoute

import benchwalk.records as r
from benchwalk import demo
from benchwalk.demo import scenario
from benchwalk.demo.ground import id_of, person, phone
from benchwalk.records.accounts import devices, links, people, signing_in
from benchwalk.records.base import uuid7
from benchwalk.records.corrections import Corrected, correct_look, void_record
from benchwalk.records.database import migrate, open_database, session, writing
from benchwalk.records.ledger import Ledgered
from benchwalk.records.setup import set_up
from benchwalk.records.sync import Told, take
from benchwalk.records.sync.settling import settle
from benchwalk.report.keys import looks_address, looks_of
from benchwalk.summarise import Key, Summary, summarise
from benchwalk.web.app import ROUTERS

if TYPE_CHECKING:
    from playwright.sync_api import Page

DEMO, EMPTY, BEGUN = "demo", "empty", "begun"
LAST_DAY = scenario.day_of(scenario.WEEKS - 1, 2)
SEEN = scenario.at(LAST_DAY, 9)
NAME, PASSPHRASE = "noor", "seven wet ladders"  # invented
LONG_NAME = "Maximiliana Wolfeschlegelsteinhausenbergerdorff de los Invernaderos"[:64]


@dataclass(frozen=True)
class Seen:
    """A page in one state.

    ``path`` is filled with the ids of its operation; ``rows`` must be there before anything else is
    judged; ``does`` is done on the page first and leads to what is looked at; ``who`` opens it.
    """

    name: str
    route: str
    path: str
    rows: str
    least: int = 1
    at: str = DEMO
    who: str | None = "manager"
    does: Callable[[Page], object] | None = None
    status: int = 200

    def address(self, ids: dict[str, str], locale: str) -> str:
        """Path and query, in one language."""
        path = self.path.format(**ids)
        return f"{path}{'&' if '?' in path else '?'}lang={locale}"


def _pressed(button: str) -> Callable[[Page], object]:
    return lambda page: page.locator(button).first.click()


def _wrong_passphrase(page: Page) -> None:
    page.fill("#name", "nobody")
    page.fill("#passphrase", "no such words")
    page.locator("main button").click()


def _a_cell_that_says_nothing(page: Page) -> None:
    page.fill("#seen_at", "09:30")
    page.locator(".cells td input").nth(1).fill("many")
    page.locator("main button").click()


def _a_count_that_is_none(page: Page) -> None:
    page.fill("#count-1", "many")
    page.fill("#why-correct", "read again")
    page.locator("form[action$='/correct'] button").click()


PAGES: tuple[Seen, ...] = (
    Seen("week", "/", "/", ".unit-row", 16),
    Seen("week-of-a-house", "/", "/?house=Long+House", ".unit-row", 4),
    Seen("week-empty", "/", "/", ".empty", at=EMPTY),
    Seen("week-begun", "/", "/", "h1", at=BEGUN),
    Seen("unit", "/units/{unit}", "/units/{unit}", ".days", 2),
    Seen("unit-not-looked", "/units/{unit}", "/units/{not_looked}", ".days"),
    Seen("looks", "/looks", "{looks}", "main tbody tr", 5),
    Seen("looks-corrected", "/looks", "{looks_corrected}", "main tbody tr"),
    Seen("ledger", "/ledger", "/ledger", "main tbody tr", 20),
    Seen("ledger-empty", "/ledger", "/ledger", ".none", 2, at=EMPTY),
    Seen("record", "/ledger/{record}", "/ledger/{look}", "main tbody tr", 8),
    Seen("record-reading", "/ledger/{record}", "/ledger/{reading}", "main tbody tr", 8),
    Seen("record-corrected", "/ledger/{record}", "/ledger/{corrected}", "main section", 2),
    Seen("record-void", "/ledger/{record}", "/ledger/{void}", "main tbody .void", 4),
    Seen("record-walk", "/ledger/{record}", "/ledger/{walk}", "main tbody tr", 4),
    Seen("record-visit", "/ledger/{record}", "/ledger/{visit}", "main tbody tr", 4),
    Seen("record-application", "/ledger/{record}", "/ledger/{application}", "main tbody tr", 4),
    Seen("record-planting", "/ledger/{record}", "/ledger/{planting}", "main section", 2),
    Seen("record-card", "/ledger/{record}", "/ledger/{card}", "main section", 2),
    Seen("record-threshold", "/ledger/{record}", "/ledger/{threshold}", "main tbody tr", 4),
    Seen(
        "record-refused",
        "/ledger/{record}",
        "/ledger/{look}",
        ".fault",
        does=_a_count_that_is_none,
        status=400,
    ),
    Seen("report", "/report", "/report", "main a", 3),
    Seen("exports", "/exports", "/exports", "main a", 3),
    Seen("calibration", "/calibration", "/calibration", "main tbody tr", 3),
    Seen("calendar", "/calendar", "/calendar", "main button"),
    Seen("calendar-address", "/calendar", "/calendar", "main code", does=_pressed("main button")),
    Seen("paper", "/paper", "/paper", "main form"),
    Seen("paper-walks", "/paper", "/paper", ".rows li", at=BEGUN),
    Seen("paper-units", "/paper/{walk}", "/paper/{walk}", ".rows li", 10),
    Seen("paper-form", "/paper/{walk}/{unit}", "/paper/{walk}/{unit}", ".cells td input", 24),
    Seen(
        "paper-form-kept",
        "/paper/{walk}/{unit}",
        "/paper/{walk}/{unit}?kept=12&rows=4",
        "[role=status]",
    ),
    Seen(
        "paper-form-refused",
        "/paper/{walk}/{unit}",
        "/paper/{walk}/{unit}?rows=4",
        ".fault",
        does=_a_cell_that_says_nothing,
        status=400,
    ),
    Seen("paper-sheet", "/paper/{walk}/sheet", "/paper/{walk}/sheet", ".blank", 2),
    Seen("conflicts", "/conflicts", "/conflicts", "main tbody tr", 3),
    Seen("conflicts-none", "/conflicts", "/conflicts", ".none", at=EMPTY),
    Seen("conflict", "/conflicts/{n}", "/conflicts/3", "[name=how]", 3),
    Seen("conflict-refused", "/conflicts/{n}", "/conflicts/1", "[name=how]", 2),
    Seen("conflict-settled", "/conflicts/{n}", "/conflicts/2", "[role=status]"),
    Seen("phones", "/phones", "/phones", "main tbody tr", 4),
    Seen("phones-none", "/phones", "/phones", ".none", at=EMPTY),
    Seen(
        "phones-pair", "/phones", "/phones", ".qr", does=_pressed("[action='/phones/pair'] button")
    ),
    Seen("people", "/people", "/people", ".rows li", 5),
    Seen("person", "/people/{person}", "/people/{person}", "main form", 3),
    Seen(
        "person-link",
        "/people/{person}",
        "/people/{person}",
        "main code",
        does=_pressed("[action$='/link'] button"),
    ),
    Seen("person-long-name", "/people/{person}", "/people/{long}", "main form", 3),
    Seen("audit", "/people/audit", "/people/audit", ".rows li", 3),
    Seen("account", "/account", "/account", "main form", 2),
    Seen("sign-in", "/sign-in", "/sign-in", "#passphrase", who=None),
    Seen(
        "sign-in-wrong",
        "/sign-in",
        "/sign-in",
        ".fault",
        who=None,
        does=_wrong_passphrase,
        status=401,
    ),
    Seen("link-set-up", "/link/{token}", "/link/{set_up}", "#passphrase", at=EMPTY, who=None),
    Seen("link-choose", "/link/{token}", "/link/{choose}", "#passphrase", who=None),
    Seen("link-enter", "/link/{token}", "/link/{enter}", "main button", who=None),
    Seen("phone-page", "/phone/", "/phone/", "main", who=None),
    Seen("error-not-found", "/units/{unit}", "/units/no-such-unit", ".fault", status=404),
    Seen("error-not-understood", "/", "/?day=soon", ".fault", status=422),
    Seen("error-not-allowed", "/people", "/people", ".fault", who="scout", status=403),
)
NOT_PAGES = {
    "/health/live": "read by programs",
    "/health/ready": "read by programs",
    "/units/{unit}/ahead": "a part of the unit's page, brought there by htmx, or a way back to it",
    "/report/{name}": "files; the PDF has pictures of its own",
    "/exports/{name}": "files",
    "/calendar/{token}.ics": "read by calendars",
    "/api/v1/plan": "read by phones",
    "/api/v1/photos/{digest}": "read by phones",
    "/photos/{digest}": "a picture on a unit's page",
    "/pair": "leads to /phone/",
    "/phone": "leads to /phone/",
    "/phone/{name}": "files of the phone's page",
}


def unseen(routers: Sequence[APIRouter] = ROUTERS) -> set[str]:
    """GET routes that show a page and have none in the list."""
    held = [route for router in routers for route in router.routes if isinstance(route, APIRoute)]
    shown = {route.path for route in held if "GET" in route.methods}
    return shown - {seen.route for seen in PAGES} - set(NOT_PAGES)


@dataclass(frozen=True)
class Operation:
    """An operation to be served: its database, the ids its pages need, tokens by role."""

    engine: sa.Engine
    number: int
    ids: dict[str, str]
    tokens: dict[str, str]


@contextmanager
def operations(folder: Path, data: Path | None = None) -> Iterator[dict[str, Operation]]:
    """The demo brought into every state, an empty operation and one whose first walk began.

    Parameters
    ----------
    folder : for the databases.
    data : a data directory with the demo in it, to be written to; None builds one in ``folder``.
    """
    with ExitStack() as held:
        engine, number = held.enter_context(demo.ready(data or folder / "demo"))
        yield {
            DEMO: Operation(engine, number, *_the_demo(engine, number)),
            EMPTY: held.enter_context(_another(folder / "empty.sqlite", _nobody_yet)),
            BEGUN: held.enter_context(_another(folder / "begun.sqlite", _a_walk_begun)),
        }


@contextmanager
def _another(path: Path, prepared: Callable[[Ledgered], dict[str, str]]) -> Iterator[Operation]:
    engine = open_database(f"sqlite:///{path}")
    migrate(engine)
    number = set_up(engine, "Any nursery (invented)", "UTC").operation
    with writing(engine, number) as s:
        ids = prepared(s)
        tokens = _tokens(s)
    yield Operation(engine, number, ids, tokens)
    engine.dispose()


def _nobody_yet(s: Ledgered) -> dict[str, str]:
    return {"set_up": links.make(s, "set_up")}


def _a_walk_begun(s: Ledgered) -> dict[str, str]:
    scout = people.add_person(s, "Noor", "scout", NAME)
    yesterday = dt.datetime.now(dt.UTC).date() - dt.timedelta(days=1)
    s.add(r.Walk(id=uuid7(), walk_on=yesterday, scout_id=scout))
    return {}


def _tokens(s: Ledgered) -> dict[str, str]:
    """Somebody signed in, a manager and a scout."""
    browser = {"browser": "Firefox on Linux", "source": None}
    manager = people.guide(s, "the office")
    scout = people.add_person(s, "Kit", "scout", "kit")
    return {
        "manager": signing_in.begin(s, manager, **browser),
        "scout": signing_in.begin(s, scout, **browser),
    }


def _the_demo(engine: sa.Engine, number: int) -> tuple[dict[str, str], dict[str, str]]:
    """Ids of the demo's pages, once its states are there, and tokens."""
    with session(engine, number) as s:
        week = summarise(s)
        assert week is not None  # the demo has walks
        ids = _of_the_week(week) | _of_records(s)
    _sent_by_phones(engine, number, ids["unit"])
    with writing(engine, number, person("scout 1")) as s:
        ids |= _changed(s)
        settle(s, 2, "held")
        grower = people.add_person(s, "Noor", "grower", NAME)
        people.set_passphrase(s, grower, PASSPHRASE)
        long = people.add_person(s, LONG_NAME, "scout", "max")
        devices.pair(s, devices.offer_pairing(s).secret, f"phone 5 of {LONG_NAME[:40]}")
        tokens = _tokens(s)
        ids |= {
            "person": str(grower),
            "long": str(long),
            "choose": links.make(s, "choose", person("scout 2")),
        }
        ids |= {"enter": links.offer_entrance(s, person("scout 1"))}
    return ids, tokens


def _of_the_week(week: Summary) -> dict[str, str]:
    lines = [x for u in week.units for x in u.lines if x.series.per == "per_plant"]
    return {
        "unit": str(id_of("unit", "G2")),
        "not_looked": str(week.not_looked[0].unit.id),
        "looks": looks_address(lines[0].series),
    }


def _of_records(s: Ledgered) -> dict[str, str]:
    """A record of each kind that has something of its own to show; the newest of its kind."""
    kinds = ("application", "planting", "card", "threshold", "visit", "walk")
    seen = {kind: _newest(s, r.Ledger.kind == kind) for kind in kinds}
    of_look = r.Ledger.kind == "observation"
    return seen | {
        "look": _newest(s, of_look, r.Ledger.body.contains('"kind":"look"')),
        "reading": _newest(s, of_look, r.Ledger.body.contains('"kind":"reading"')),
    }


def _newest(s: Ledgered, *which: sa.ColumnElement[bool]) -> str:
    newest = sa.select(r.Ledger.id).where(*which).order_by(r.Ledger.rev.desc(), r.Ledger.seq.desc())
    return str(s.scalars(newest.limit(1)).one())


def _changed(s: Ledgered) -> dict[str, str]:
    """A look corrected and one beside it taken back, and the looks behind their number."""
    newest = sa.select(r.Observation).where(r.Observation.kind == "look")
    mended, void = s.scalars(newest.order_by(r.Observation.seen_at.desc()).limit(2)).all()
    first = mended.examined[0].tallies[0]
    key = Key(mended.unit_id, first.taxon, first.stage, first.method)
    counts = {(first.method, first.taxon, first.stage): 7}
    correct_look(
        s, mended.id, 1, Corrected(counts, mended.plants, mended.position), "read again with a lens"
    )
    void_record(s, void.id, 1, "the plant beside was meant")
    looks = looks_of(key, LAST_DAY)
    return {"corrected": str(mended.id), "void": str(void.id), "looks_corrected": looks}


def _sent_by_phones(engine: sa.Engine, number: int, unit: str) -> None:
    """Two words on two looks, a second visit of one unit, and a phone that holds unsent."""
    scout, device = str(person("scout 1")), phone("scout 1")
    said = {"rev": 1, "base": 0, "by": scout, "seen_at": SEEN.isoformat(), "offset_s": 1.5}
    walk = str(uuid7())
    begun = {"walk_on": LAST_DAY.isoformat(), "scout_id": scout}
    items = [
        _item("walk", walk, begun, said),
        _item("visit", str(uuid7()), {"walk_id": walk, "unit_id": unit, "state": "done"}, said),
        *(look := [_look(walk, unit, n, said) for n in (3, 4)]),
        *(_another_number(one, 9) for one in look),
        _item("visit", str(uuid7()), {"walk_id": walk, "unit_id": unit, "state": "done"}, said),
    ]
    told = Told(app_version="1.2.0", clock_error_s=-3900.0)
    take(engine, number, device, items, unsent=len(items) + 12, told=told)


def _item(kind: str, id_: str, body: dict[str, Any], said: dict[str, Any]) -> dict[str, Any]:
    return said | {"kind": kind, "id": id_, "void": None, "body": body}


def _look(walk: str, unit: str, number: int, said: dict[str, Any]) -> dict[str, Any]:
    tally = {"taxon": "western_flower_thrips", "stage": "adult", "number": number}
    examined = {"method": "leaf_count", "items": 3, "tallies": [tally]}
    where = {"walk_id": walk, "unit_id": unit, "seen_at": said["seen_at"], "position": "12.1"}
    body = {"kind": "look", "why": "sample", "plants": 1, "examined": [examined]} | where
    return _item("observation", str(uuid7()), body, said)


def _another_number(item: dict[str, Any], number: int) -> dict[str, Any]:
    other: dict[str, Any] = json.loads(json.dumps(item))
    other["body"]["examined"][0]["tallies"][0]["number"] = number
    return other
