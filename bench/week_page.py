"""This week for 400 units and three years of weekly walks: server time, size, first paint.

The records are invented: each unit is walked once a week, two plants are looked at one by one, and
two stages of one pest are counted on each. Server time is that of the request in this process, of
four readers: the first of a server that knows nothing, the first of one that has read its week by
itself as it does when it is started, the first after one look was recorded, and every other; by the
clock and of the processor, the latter as a ratio to the questions of the first run bare (the same
statements and parameters, all rows fetched). First paint is Chromium's, with the processor four
times slower, 10 Mbit/s and 40 ms, the middle one of five; beside it when the first byte came, when
a window full of rows was there, and what style, layout and all of the main thread took until the
page was loaded. A figure of the machine it was run on; it fails no test.
"""

from __future__ import annotations

import datetime as dt
import gzip
import os
import shutil
import sys
import tempfile
import time
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path
from statistics import median
from typing import Any

import httpx
import numpy as np
import sqlalchemy as sa
from fastapi import FastAPI
from fastapi.testclient import TestClient
from playwright.sync_api import sync_playwright

import benchwalk.records as r
from benchwalk.records.accounts import people, signing_in
from benchwalk.records.database import measure, migrate, open_database, writing
from benchwalk.records.ledger import Ledgered, write_new
from benchwalk.records.plain import Plain
from benchwalk.records.setup import only_operation, own_threshold, set_up
from benchwalk.web import Served, create_app
from benchwalk.web.base import COOKIE
from benchwalk.web.compressed import LEVEL
from benchwalk.web.week_pages import read_once
from kept import head, keep, options

sys.path[:0] = [str(Path(__file__).parent.parent)]

from tests.conftest import CHROMIUM  # noqa: E402 - the root has to be on the path first
from tests.web.conftest import SignedIn, listening  # noqa: E402

SEED = 4003
UNITS, WEEKS = 400, 156
A_HOUSE = 40
FIRST = dt.date(2023, 7, 3)
TIMES, FEW_TIMES = 5, 3
PEST, CROP = "western_flower_thrips", "chrysanthemum"
PAINTS = 5
# of the page that is watched: the frame after the one that has a window full of rows
ROWS_SEEN = """{
  const full = 30;
  const look = () => document.getElementsByClassName('unit-row').length < full
    ? requestAnimationFrame(look)
    : requestAnimationFrame(() => { window.rowsSeen = performance.now(); });
  requestAnimationFrame(look);
}"""
WHEN = """() => {
  const [asked] = performance.getEntriesByType('navigation');
  return {
    first_byte_ms: asked.responseStart,
    last_byte_ms: asked.responseEnd,
    first_paint_ms: performance.getEntriesByName('first-contentful-paint')[0].startTime,
    window_of_rows_ms: window.rowsSeen,
    parsed_ms: asked.domInteractive,
    elements: document.getElementsByTagName('*').length,
  };
}"""
# what the main thread did until the page was loaded, four times as slow as it is
SPENT = {
    "style_ms": "RecalcStyleDuration",
    "layout_ms": "LayoutDuration",
    "main_thread_ms": "TaskDuration",
}
SLOW = {"latency": 40, "downloadThroughput": 1.25e6, "uploadThroughput": 1.25e6}


def built(folder: Path, units: int, weeks: int) -> tuple[sa.Engine, int]:
    file = folder / "bench.sqlite"
    there, engine = file.exists(), open_database(f"sqlite:///{file}")
    if there:
        return engine, only_operation(engine)
    return engine, walked(engine, "Bench of a week (invented)", units, weeks)[0]


def walked(engine: sa.Engine, name: str, units: int, weeks: int) -> tuple[int, Ground]:
    """An operation in an empty database, walked once a week."""
    migrate(engine)
    operation = set_up(engine, name, "UTC").operation
    with writing(engine, operation) as s:
        ground = Ground(s, units)
    rng = np.random.default_rng(SEED)
    for week in range(weeks):
        with writing(engine, operation) as s:
            write_new(s, ground.walk(FIRST + dt.timedelta(weeks=week), rng))
    return operation, ground


class Ground:
    """Units of one crop in houses of forty, and their walks."""

    def __init__(self, s: Ledgered, units: int) -> None:
        self.units = [uuid.uuid4() for _ in range(units)]
        self.levels = np.exp(np.random.default_rng(SEED + 1).normal(-0.5, 1.5, units))
        scout = r.Person(operation_id=s.info["operation_id"], pseudonym="scout", role="scout")
        s.add(scout)
        s.flush()
        self.scout = scout.id
        write_new(s, list(self._rows()))

    def _rows(self) -> Iterator[Any]:
        air = uuid.uuid4()
        yield Plain(r.AirSpace, id=air, name="all")
        houses = [uuid.uuid4() for _ in range(1 + (len(self.units) - 1) // A_HOUSE)]
        for n, house in enumerate(houses, start=1):
            yield Plain(r.House, id=house, air_space_id=air, name=f"House {n}")
        for n, unit in enumerate(self.units):
            name = f"Bench {1 + n % A_HOUSE}"
            house = houses[n // A_HOUSE]
            yield Plain(r.Unit, id=unit, house_id=house, name=name, opened_on=FIRST)
            phase = Plain(r.Phase, from_on=FIRST, phase="production", area_percent=100)
            yield Plain(r.Planting, unit_id=unit, crop=CROP, phases=[phase])
        for stage in ("adult", "larva"):
            yield own_threshold(
                taxon=PEST,
                stage=stage,
                method="plant_count",
                crop=CROP,
                phase="any",
                value=3.0,
                high=None,
                per="per_plant",
                kind="action",
                source="invented for the bench",
                since=FIRST,
            )

    def walk(self, day: dt.date, rng: np.random.Generator) -> list[Plain]:
        walk, begun = uuid.uuid4(), dt.datetime.combine(day, dt.time(8), dt.UTC)
        route = [Plain(r.Route, unit_id=u, place=n) for n, u in enumerate(self.units, start=1)]
        rows = [Plain(r.Walk, id=walk, walk_on=day, scout_id=self.scout, route=route)]
        for unit, level in zip(self.units, self.levels, strict=True):
            times = {"started_at": begun, "ended_at": begun + dt.timedelta(minutes=9)}
            rows.append(Plain(r.Visit, walk_id=walk, unit_id=unit, state="done", **times))
            rows += [self._look(walk, unit, begun, rng.poisson(level, 2)) for _ in range(2)]
        return rows

    def _look(self, walk: uuid.UUID, unit: uuid.UUID, at: dt.datetime, counts: Any) -> Plain:
        tallies = [
            Plain(r.Tally, taxon=PEST, stage=stage, number=int(n))
            for stage, n in zip(("adult", "larva"), counts, strict=True)
        ]
        done = [Plain(r.Examined, method="plant_count", tallies=tallies)]
        where = {"walk_id": walk, "unit_id": unit, "seen_at": at, "why": "sample", "plants": 1}
        return Plain(r.Observation, kind="look", examined=done, **where)


def took(what: Callable[[], object], times: int = TIMES) -> tuple[float, float]:
    """Milliseconds by the clock and of the processor: the middle ones of a few runs."""
    runs = []
    for _ in range(times):
        begun, cpu = time.perf_counter(), time.process_time()
        what()
        runs.append((1000 * (time.perf_counter() - begun), 1000 * (time.process_time() - cpu)))
    by_clock, of_cpu = zip(*runs, strict=True)
    return round(median(by_clock), 1), round(median(of_cpu), 1)


def measured(engine: sa.Engine, operation: int) -> dict[str, Any]:
    """Of four readers: first of a server, before and after it read by itself; after a look; any.

    Each is told beside all the questions of a page that knows nothing yet, run bare; and beside
    its own, where it asks fewer.
    """
    app, token = served(engine, operation)
    new = reader(engine, operation, token)
    asked = statements(engine, new)
    bare = took(lambda: run_bare(engine, asked))
    read = reader(engine, operation, token)
    answer = read()
    again = statements(engine, read)
    write(engine, operation)
    after = statements(engine, read)
    return {
        "questions": len(asked),
        "questions_ms": bare[0],
        "questions_cpu_ms": bare[1],
        **beside("started", bare, started(engine, operation, token)),
        **beside("read_once", bare, started(engine, operation, token, once=True)),
        "after_a_look_questions": len(after),
        "after_a_look_questions_cpu_ms": took(lambda: run_bare(engine, after))[1],
        **beside("after_a_look", bare, after_looks(engine, operation, read)),
        "again_questions": len(again),
        **beside("again", bare, took(read)),
        "one_house_ms": took(lambda: read("/?house=House+1"))[0],
        "html_kb": round(len(answer.content) / 1000, 1),
        "html_gz_kb": round(len(gzip.compress(answer.content, LEVEL)) / 1000, 1),
        "rows": answer.text.count('class="unit-row"'),
        **first_paint(app, token, lambda: write(engine, operation)),
    }


Took = tuple[float, float]


def reader(
    engine: sa.Engine, operation: int, token: str, *, once: bool = False
) -> Callable[..., httpx.Response]:
    """Somebody signed in who asks a server that has been asked nothing yet.

    ``once``: one that has read its week by itself, as it does when it begins.
    """
    shown = Served(engine, operation)
    if once:
        read_once(shown)
    app = create_app(shown)
    client = TestClient(app, base_url="http://localhost", cookies={COOKIE: token})

    def read(path: str = "/") -> httpx.Response:
        answer = client.get(path)
        assert answer.status_code == 200, answer.text
        return answer

    return read


def started(engine: sa.Engine, operation: int, token: str, *, once: bool = False) -> Took:
    readers = iter([reader(engine, operation, token, once=once) for _ in range(FEW_TIMES)])
    return took(lambda: next(readers)(), FEW_TIMES)


def after_looks(engine: sa.Engine, operation: int, read: Callable[[], object]) -> Took:
    """The first reader after one look was recorded, the recording left out."""

    def both() -> None:
        write(engine, operation)
        read()

    alone, together = took(lambda: write(engine, operation)), took(both)
    return round(together[0] - alone[0], 1), round(together[1] - alone[1], 1)


def beside(what: str, bare: Took, found: Took) -> dict[str, float]:
    """By the clock and of the processor, and the latter as a ratio to the questions run bare."""
    ratio = round(found[1] / bare[1], 2)
    return {f"{what}_ms": found[0], f"{what}_cpu_ms": found[1], f"{what}_ratio": ratio}


def served(engine: sa.Engine, operation: int) -> tuple[FastAPI, str]:
    """The app, as the command that serves makes it, and the token of a grower who is signed in."""
    measure(engine)
    with writing(engine, operation) as s:
        user = f"grower-{uuid.uuid4().hex[:8]}@here"
        person = people.add_person(s, user.partition("@")[0], "grower", user)
        token = signing_in.begin(s, person, browser="a bench", source=None)
    return create_app(Served(engine, operation)), token


def write(engine: sa.Engine, operation: int) -> None:
    """Record one more look of the newest walk, as a phone does."""
    with writing(engine, operation) as s:
        visit, day = s.execute(
            sa.select(r.Visit, r.Walk.walk_on)
            .join(r.Walk, r.Walk.id == r.Visit.walk_id)
            .order_by(r.Walk.walk_on.desc(), r.Visit.unit_id)
            .limit(1)
        ).one()
        at = dt.datetime.combine(day, dt.time(9), dt.UTC)
        tallies = [r.Tally(taxon=PEST, stage=stage, number=1) for stage in ("adult", "larva")]
        done = [r.Examined(method="plant_count", tallies=tallies)]
        where = {"walk_id": visit.walk_id, "unit_id": visit.unit_id, "seen_at": at}
        s.add(r.Observation(kind="look", why="sample", plants=1, examined=done, **where))


def statements(engine: sa.Engine, what: Callable[[], object]) -> list[tuple[str, Any]]:
    """The questions that something asks, as they were sent."""
    sent: list[tuple[str, Any]] = []

    def note(_: Any, __: Any, statement: str, parameters: Any, *___: Any) -> None:
        sent.append((statement, parameters))

    sa.event.listen(engine, "before_cursor_execute", note)
    what()
    sa.event.remove(engine, "before_cursor_execute", note)
    return [(sql, values) for sql, values in sent if sql.lstrip().upper().startswith("SELECT")]


def run_bare(engine: sa.Engine, asked: list[tuple[str, Any]]) -> None:
    """The same statements with the same values; every row is fetched and nothing made of it."""
    with engine.connect() as connection:
        cursor = connection.connection.cursor()
        for statement, values in asked:
            cursor.execute(statement, values)
            cursor.fetchall()
        cursor.close()


def first_paint(app: FastAPI, token: str, write: Callable[[], None]) -> dict[str, Any]:
    """Of a week that was read before, and of the first reader after something was recorded."""
    path = shutil.which("chromium")
    if path is None:
        return {}
    with listening(SignedIn(app, token)) as url, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=CHROMIUM)
        _paint(browser, url)
        paints = [_paint(browser, url) for _ in range(PAINTS)]
        write()
        after = _paint(browser, url)
        browser.close()
    middle = {part: round(median(paint[part] for paint in paints), 1) for part in after}
    return {
        **middle,
        "first_paint_all_ms": sorted(round(paint["first_paint_ms"]) for paint in paints),
        "first_paint_after_a_write_ms": round(after["first_paint_ms"], 1),
    }


def _paint(browser: Any, url: str) -> dict[str, float]:
    """When the page came and was painted, from the asking on, and what the browser did for it."""
    page = browser.new_page(viewport={"width": 1440, "height": 900})
    tools = page.context.new_cdp_session(page)
    tools.send("Emulation.setCPUThrottlingRate", {"rate": 4})
    tools.send("Performance.enable")
    tools.send("Network.enable")
    tools.send("Network.emulateNetworkConditions", {"offline": False, **SLOW})
    page.add_init_script(ROWS_SEEN)
    page.goto(url, wait_until="load", timeout=180_000)
    found: dict[str, float] = page.evaluate(WHEN)
    spent = {m["name"]: 1000 * m["value"] for m in tools.send("Performance.getMetrics")["metrics"]}
    page.close()
    return found | {part: spent[name] for part, name in SPENT.items()}


def main() -> None:
    parser = options(__doc__)
    parser.add_argument("--units", type=int, default=UNITS)
    parser.add_argument("--weeks", type=int, default=WEEKS)
    parser.add_argument("--folder", type=Path, help="keep the records here, or take those there")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        begun, where = time.perf_counter(), given.folder or Path(folder)
        there = (where / "bench.sqlite").exists()
        engine, operation = built(where, given.units, given.weeks)
        made = None if there else round(time.perf_counter() - begun, 1)
        figures = measured(engine, operation)
        engine.dispose()
    held = {
        **head(SEED),
        "units": given.units,
        "weeks": given.weeks,
        "runs": TIMES,
        "load": round(os.getloadavg()[1], 1),
        "built_s": made,
        **figures,
    }
    keep("week_page", held, write=given.write)


if __name__ == "__main__":
    main()
