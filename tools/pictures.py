"""Pictures of every page over the demo: contact sheets to look at, and those of the documentation.

    python tools/pictures.py --to DIR               contact sheets, one a page and language; paper
    python tools/pictures.py --to DIR --few         a page a route, in English: what CI leaves
    python tools/pictures.py --to DIR --only week   pages by name (tools/every_page.py)
    python tools/pictures.py --docs                 docs/pictures/*.png, small enough to keep

A sheet shows one page at four widths side by side; what is longer than a sheet goes on in a column
beside. What is printed (the week, a unit, the report) is shown page by page.
"""

from __future__ import annotations

import argparse
import io
import shutil
import subprocess
import tempfile
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import every_page
import uvicorn
from every_page import DEMO, PAGES, Operation, Seen
from PIL import Image
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Error,
    Page,
    Response,
    sync_playwright,
)

from benchwalk.catalogue import LOCALES
from benchwalk.web import Served, create_app
from benchwalk.web.base import COOKIE

WIDTHS = (1440, 768, 390, 360)
HEIGHT = 900
COLUMN = 3200  # of a sheet [px]: what is longer goes on beside
GAP = 24
GREY = "#9aa4aa"
LAST_ANSWERS_S = 5  # a browser may hold a connection on which it never asks anything
PATIENCE_S = 30.0
PATIENCE_MS = 120_000.0  # the first page of a server works out what is ahead
DOCS = Path(__file__).parents[1] / "docs" / "pictures"
#: pictures of the documentation: page, width and height [px]
SHOWN = {
    "week": ("week", 1280, 860),
    "week-phone": ("week", 390, 760),
    "unit": ("unit", 1280, 1000),
    "looks": ("looks", 1280, 700),
    "calibration": ("calibration", 1280, 860),
    "record": ("record-corrected", 1280, 640),
}
PRINTED = ("week", "unit", "paper-sheet", "record-corrected", "looks")
COLOURS = 128  # of a picture that is kept: three inks and their edges
QUICK = 1  # compression of a sheet: large files, soon written
DOTS = 80  # of a printed page [an inch]
BROUGHT_LATER = "[hx-trigger=load], .htmx-request"  # by htmx, in place of what stands there
#: rows that wait for the window to come near
LAID_OUT = """() => {
  for (const e of document.querySelectorAll('.unit-row')) e.style.contentVisibility = 'visible';
}"""


@dataclass
class Heard:
    """What a page's browser was told: statuses of the pages themselves, and complaints."""

    statuses: list[int] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)

    @contextmanager
    def of(self, page: Page) -> Iterator[None]:
        """Listen to a page while the block runs."""
        told = {"console": self._said, "pageerror": self._failed, "response": self._answered}
        for event, hears in told.items():
            page.on(event, hears)
        yield
        for event, hears in told.items():
            page.remove_listener(event, hears)

    def _said(self, message: ConsoleMessage) -> None:
        self.complaints.append(message.text)

    def _failed(self, error: Error) -> None:
        self.complaints.append(str(error))

    def _answered(self, response: Response) -> None:
        if response.request.is_navigation_request():
            self.statuses.append(response.status)


class Gallery:
    """Operations as they are served, and a browser that looks at them."""

    def __init__(self, browser: Browser, operations: dict[str, Operation]) -> None:
        self.browser, self.operations = browser, operations
        self.contexts: dict[tuple[str, str | None], BrowserContext] = {}
        self.pages: dict[tuple[str, str | None, str], Page] = {}
        self.urls: dict[str, str] = {}

    @contextmanager
    def open(self) -> Iterator[Gallery]:
        """Every operation is served while the block runs."""
        with ExitStack() as held:
            for name, one in self.operations.items():
                self.urls[name] = held.enter_context(_listening(one))
            yield self
            for context in self.contexts.values():
                context.close()

    @contextmanager
    def opened(
        self, seen: Seen, locale: str, width: int, height: int = HEIGHT, heard: Heard | None = None
    ) -> Iterator[Page]:
        """A page with what is done on it first, at one width."""
        page = self._page(seen, locale)
        page.set_viewport_size({"width": width, "height": height})
        with (heard or Heard()).of(page):
            page.goto(f"{self.urls[seen.at]}{seen.address(self.operations[seen.at].ids, locale)}")
            if seen.does:
                with page.expect_navigation():
                    seen.does(page)
            page.locator(BROUGHT_LATER).first.wait_for(state="detached")
            page.evaluate("document.fonts.ready.then(() => null)")
            yield page

    def _page(self, seen: Seen, locale: str) -> Page:
        """A person's page in a language: another address costs little, a new page much."""
        key = (seen.at, seen.who, locale)
        if key not in self.pages:
            self.pages[key] = page = self._context(seen).new_page()
            # the phone's own page asks its browser, and remembers
            page.add_init_script(f"localStorage.setItem('locale', '{locale}')")
        return self.pages[key]

    def _context(self, seen: Seen) -> BrowserContext:
        """One for each person of an operation: what a browser keeps of one is not another's."""
        key = (seen.at, seen.who)
        if key not in self.contexts:
            self.contexts[key] = context = self.browser.new_context()
            context.set_default_timeout(PATIENCE_MS)
            if seen.who:
                token = self.operations[seen.at].tokens[seen.who]
                held = {"name": COOKIE, "value": token, "url": self.urls[seen.at]}
                context.add_cookies([held])
        return self.contexts[key]


@contextmanager
def gallery() -> Iterator[Gallery]:
    """The demo built anew and brought into every state, served on free ports."""
    with ExitStack() as held:
        folder = Path(held.enter_context(tempfile.TemporaryDirectory()))
        operations = held.enter_context(every_page.operations(folder))
        playwright = held.enter_context(sync_playwright())
        found = shutil.which("chromium")
        browser = playwright.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield held.enter_context(Gallery(browser, operations).open())


@contextmanager
def _listening(operation: Operation) -> Iterator[str]:
    app = create_app(Served(operation.engine, operation.number))
    config = uvicorn.Config(
        app, port=0, log_level="warning", timeout_graceful_shutdown=LAST_ANSWERS_S
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    patience = time.monotonic() + PATIENCE_S
    while not server.started:
        if not thread.is_alive() or time.monotonic() > patience:
            raise SystemExit("the server of the pages did not start")
        time.sleep(0.02)
    port = server.servers[0].sockets[0].getsockname()[1]
    yield f"http://127.0.0.1:{port}"
    server.should_exit = True
    thread.join(LAST_ANSWERS_S + PATIENCE_S)  # it is a daemon: what hangs ends with the program


def _taken(page: Page, *, whole: bool = True) -> Image.Image:
    """With the rows that would be drawn once they are scrolled to."""
    page.evaluate(LAID_OUT)
    return Image.open(io.BytesIO(page.screenshot(full_page=whole)))


def _at_every_width(shown: Gallery, seen: Seen, locale: str) -> list[Image.Image]:
    """A page is loaded once and made narrower."""
    with shown.opened(seen, locale, WIDTHS[0]) as page:
        taken = []
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": HEIGHT})
            taken.append(_taken(page))
    return taken


def _columns(picture: Image.Image) -> Iterator[Image.Image]:
    for top in range(0, picture.height, COLUMN):
        yield picture.crop((0, top, picture.width, min(top + COLUMN, picture.height)))


def sheet_of(pictures: Sequence[Image.Image]) -> Image.Image:
    """Pictures side by side on grey, whole: a long one in columns."""
    columns = [column for picture in pictures for column in _columns(picture)]
    wide = sum(one.width + GAP for one in columns) + GAP
    sheet = Image.new("RGB", (wide, max(one.height for one in columns) + 2 * GAP), GREY)
    left = GAP
    for one in columns:
        sheet.paste(one, (left, GAP))
        left += one.width + GAP
    return sheet


def contact_sheets(
    shown: Gallery, to: Path, wanted: Sequence[Seen], locales: Sequence[str]
) -> None:
    """One file a page and language, all widths in it."""
    to.mkdir(parents=True, exist_ok=True)
    _work_out_what_is_ahead(shown)
    for seen in wanted:
        for locale in locales:
            sheet_of(_at_every_width(shown, seen, locale)).save(
                to / f"{seen.name}-{locale}.png", compress_level=QUICK
            )


def _work_out_what_is_ahead(shown: Gallery) -> None:
    """The first opening of the week does, and units' pages then show it."""
    with shown.opened(_named("week"), "en", WIDTHS[0]):
        pass


def _wanted(only: Sequence[str], *, few: bool) -> list[Seen]:
    """The pages named; of ``few`` the first of each route; all of them otherwise."""
    if few:
        return list({seen.route: seen for seen in reversed(PAGES)}.values())
    return [seen for seen in PAGES if not only or seen.name in only]


def _named(name: str) -> Seen:
    return next(one for one in PAGES if one.name == name)


def printed(shown: Gallery, to: Path, locales: Sequence[str]) -> None:
    """What comes out of a printer: pages of A4, as the page's own style says, and the report."""
    for locale in locales:
        for name in PRINTED:
            with shown.opened(_named(name), locale, WIDTHS[0]) as page:
                pdf = page.pdf(format="A4", prefer_css_page_size=True, print_background=True)
            _sheets_of_paper(pdf).save(to / f"{name}-printed-{locale}.png")
        with shown.opened(_named("report"), locale, WIDTHS[0]) as page:
            asked = page.request.get(f"{shown.urls[DEMO]}/report/week-a4.pdf?lang={locale}")
            _sheets_of_paper(asked.body()).save(to / f"report-printed-{locale}.png")


def _sheets_of_paper(pdf: bytes) -> Image.Image:
    """Pages of a PDF side by side, drawn by poppler."""
    with tempfile.TemporaryDirectory() as folder:
        stem = f"{folder}/page"
        drawn = ["pdftoppm", "-png", "-r", str(DOTS), "-", stem]
        subprocess.run(drawn, input=pdf, check=True, timeout=60)
        return sheet_of([Image.open(path) for path in sorted(Path(folder).iterdir())])


def docs_pictures(shown: Gallery) -> None:
    """The pictures of the documentation, in few colours."""
    DOCS.mkdir(parents=True, exist_ok=True)
    _work_out_what_is_ahead(shown)
    for name, (seen, width, height) in SHOWN.items():
        with shown.opened(_named(seen), "en", width, height) as page:
            few = _taken(page, whole=False).convert("RGB")
        few.quantize(COLOURS, dither=Image.Dither.NONE).save(DOCS / f"{name}.png", optimize=True)


def main() -> None:
    """Take the pictures asked for."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--to", type=Path, help="where contact sheets go; without it none are taken")
    asked.add_argument("--few", action="store_true")
    asked.add_argument("--docs", action="store_true")
    asked.add_argument("--only", nargs="*", default=[])
    given = asked.parse_args()
    with gallery() as shown:
        if given.to:
            locales = LOCALES[:1] if given.few else LOCALES
            contact_sheets(shown, given.to, _wanted(given.only, few=given.few), locales)
        if given.to and not given.few and not given.only:
            printed(shown, given.to, LOCALES)
        if given.docs:
            docs_pictures(shown)


if __name__ == "__main__":
    main()
