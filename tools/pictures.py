"""Pictures of every page over the demo: contact sheets to look at, and those of the documentation.

    python tools/pictures.py --to pictures          contact sheets, one a page and language
    python tools/pictures.py --to pictures --docs   also docs/pictures/*.png, small enough to keep

A sheet shows one page at four widths side by side, each cut at two screens' height.
"""

from __future__ import annotations

import argparse
import io
import shutil
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import sqlalchemy as sa
import uvicorn
from PIL import Image
from playwright.sync_api import Browser, sync_playwright

from benchwalk import demo
from benchwalk.catalogue import LOCALES
from benchwalk.demo.ground import id_of
from benchwalk.records import Observation
from benchwalk.records.accounts import people, signing_in
from benchwalk.records.database import session, writing
from benchwalk.report.keys import looks_address
from benchwalk.summarise import summarise
from benchwalk.web import Served, create_app
from benchwalk.web.base import COOKIE

WIDTHS = (1440, 768, 390, 360)
SCREENS = 2 * 1400  # of a page, in a contact sheet [px]
GAP = 24
PATIENCE_MS = 120_000.0  # the first page of a server works out what is ahead
DOCS = Path(__file__).parents[1] / "docs" / "pictures"
#: pictures of the documentation: page, width and height [px]
SHOWN = {
    "week": ("week", 1280, 860),
    "week-phone": ("week", 390, 760),
    "unit": ("unit", 1280, 1000),
    "looks": ("looks", 1280, 700),
    "calibration": ("calibration", 1280, 860),
    "record": ("record", 1280, 640),
}
COLOURS = 128  # of a picture that is kept: three inks and their edges


@dataclass(frozen=True)
class Shown:
    """The demo as it is served, and somebody signed in."""

    url: str
    token: str
    paths: dict[str, str]


@contextmanager
def the_demo() -> Iterator[Shown]:
    """The demo built anew, served on a free port."""
    with tempfile.TemporaryDirectory() as folder, demo.ready(Path(folder)) as (engine, operation):
        with writing(engine, operation) as s:
            person = people.guide(s, "guide")
            token = signing_in.begin(s, person, browser="pictures", source=None)
        with _listening(engine, operation) as url:
            yield Shown(url, token, _paths(engine, operation))


@contextmanager
def _listening(engine: sa.Engine, operation: int) -> Iterator[str]:
    app = create_app(Served(engine, operation))
    server = uvicorn.Server(uvicorn.Config(app, host="127.0.0.1", port=0, log_level="warning"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.02)
    port = server.servers[0].sockets[0].getsockname()[1]
    yield f"http://127.0.0.1:{port}"
    server.should_exit = True
    thread.join()


def _paths(engine: sa.Engine, operation: int) -> dict[str, str]:
    """A page of each kind that reads; a record and the looks of one number among them."""
    with session(engine, operation) as s:
        week = summarise(s)
        assert week is not None  # the demo has walks
        line = next(x for u in week.units for x in u.lines if x.series.per == "per_plant")
        look = s.scalars(sa.select(Observation.id).order_by(Observation.id).limit(1)).one()
    return {
        "week": "/?",
        "unit": f"/units/{id_of('unit', 'G2')}?",
        "unit-not-looked": f"/units/{week.not_looked[0].unit.id}?",
        "looks": f"{looks_address(line.series)}&",
        "ledger": "/ledger?",
        "record": f"/ledger/{look}?",
        "report": "/report?",
        "exports": "/exports?",
        "calibration": "/calibration?",
        "calendar": "/calendar?",
        "paper": "/paper?",
        "conflicts": "/conflicts?",
        "phones": "/phones?",
        "people": "/people?",
        "account": "/account?",
    }


def _picture(
    browser: Browser, shown: Shown, path: str, width: int, height: int, *, whole: bool
) -> Image.Image:
    page = browser.new_page(viewport={"width": width, "height": height})
    page.set_default_timeout(PATIENCE_MS)
    page.context.add_cookies([{"name": COOKIE, "value": shown.token, "url": shown.url}])
    page.goto(f"{shown.url}{path}")
    page.evaluate("document.fonts.ready")
    taken = Image.open(io.BytesIO(page.screenshot(full_page=whole)))
    page.close()
    return taken


def _sheet(pictures: list[Image.Image]) -> Image.Image:
    """Pictures side by side on grey, each cut at its foot where it is longer than the sheet."""
    cut = [one.crop((0, 0, one.width, min(one.height, SCREENS))) for one in pictures]
    wide = sum(one.width + GAP for one in cut) + GAP
    sheet = Image.new("RGB", (wide, max(one.height for one in cut) + 2 * GAP), "#9aa4aa")
    left = GAP
    for one in cut:
        sheet.paste(one, (left, GAP))
        left += one.width + GAP
    return sheet


def contact_sheets(browser: Browser, shown: Shown, to: Path, only: list[str]) -> None:
    """One file a page and language, all widths in it."""
    to.mkdir(parents=True, exist_ok=True)
    # the first opening of the week works out what is ahead, which units' pages then show
    _picture(browser, shown, "/?lang=en", 800, 600, whole=False)
    for name, path in shown.paths.items():
        if only and name not in only:
            continue
        for locale in LOCALES:
            address = f"{path}lang={locale}"
            taken = [_picture(browser, shown, address, w, 900, whole=True) for w in WIDTHS]
            _sheet(taken).save(to / f"{name}-{locale}.png")


def docs_pictures(browser: Browser, shown: Shown) -> None:
    """The pictures of the documentation, in few colours."""
    DOCS.mkdir(parents=True, exist_ok=True)
    for name, (page, width, height) in SHOWN.items():
        path = f"{shown.paths[page]}lang=en"
        taken = _picture(browser, shown, path, width, height, whole=False)
        few = taken.convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE)
        few.save(DOCS / f"{name}.png", optimize=True)


def main() -> None:
    """Take the pictures asked for."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--to", type=Path, default=Path("pictures"))
    asked.add_argument("--docs", action="store_true")
    asked.add_argument("--only", nargs="*", default=[])
    given = asked.parse_args()
    with the_demo() as shown, sync_playwright() as playwright:
        found = shutil.which("chromium")
        browser = playwright.chromium.launch(executable_path=found, args=["--no-sandbox"])
        contact_sheets(browser, shown, given.to, given.only)
        if given.docs:
            docs_pictures(browser, shown)
        browser.close()


if __name__ == "__main__":
    main()
