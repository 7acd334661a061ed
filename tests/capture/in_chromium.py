"""outbox.js in a real Chromium with its real IndexedDB, before the real server code.

The browser lives in a thread of its own, so that it does not meet the browser of other tests. A
request leaves the page through ``deliver`` and is answered by the app; between them stands a
`Network`, which loses, cuts, repeats and replaces what a test tells it to.
"""

from __future__ import annotations

import itertools
import json
import shutil
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from importlib.resources import files
from typing import Any
from urllib.parse import urlsplit

import httpx
import pytest
from playwright.sync_api import Browser, Page, Route, sync_playwright
from sqlalchemy.exc import OperationalError

from benchwalk.records.sync import taking
from benchwalk.web import Served, create_app
from tests.capture.a_phone import APhone
from tests.web.conftest import listening

MODULES = files("benchwalk.web.capture") / "static"
ORIGINS = (f"http://localhost:{port}" for port in itertools.count(20_000))
FLAGS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
NO_NETWORK = {"status": 0, "text": "", "kind": ""}
PORTAL = "<!doctype html><title>Welcome</title><form>Accept the terms</form>"
SCRIPT = """
import { openOutbox } from "/outbox.js";
import { waiting } from "/clock.js";
let skew = 0, chance = Math.random;
const now = () => Date.now() + skew;
const fetch = async (address, how) => {
  const token = how.headers.Authorization;
  const a = await deliver(address, how.method ?? "GET", token, how.body ?? null);
  if (a.status === 0) throw new TypeError("no network");
  const end = how.signal;
  const given_up = (no) => (end.aborted ? no(end.reason) : (end.onabort = () => no(end.reason)));
  if (a.status === -1) return new Promise((_, no) => given_up(no));
  return new Response(a.text, { status: a.status, headers: { "Content-Type": a.kind } });
};
// what is given up after 30 s is given up at once, so that a test need not wait
const wait = (ms, signal) => waiting(Math.min(ms, 150), signal);
window.begin = async (name) => {
  window.outbox = await openOutbox({ indexedDB, fetch, now, random: () => chance(), wait, name });
};
window.turnClock = (ms) => { skew = ms; };
window.ready = true;
"""


class KilledError(OperationalError):
    """The server's process ends here."""

    def __init__(self) -> None:
        super().__init__("killed", None, Exception("killed"))


class Network:
    """Between a page and the app: what happens to the next request, and what is on its way."""

    def __init__(self, client: httpx.Client) -> None:
        self.client = client
        self.fault = "none"
        self.over = False
        self.late: list[tuple[str, str, str, str | None]] = []
        self.last: dict[str, Any] | None = None

    def asked(self, path: str, method: str, token: str, body: str | None) -> dict[str, Any]:
        answer = self.client.request(
            method, path, headers={"Authorization": token}, content=body or ""
        )
        kind = answer.headers.get("content-type", "")
        return {"status": answer.status_code, "text": answer.text, "kind": kind}

    def deliver(self, path: str, method: str, token: str, body: str | None) -> dict[str, Any]:
        fault, sent = self.fault, (path, method, token, body)
        answer = getattr(self, f"_{fault}")(*sent)
        if answer["status"] == 200 and fault == "none":
            self.last = answer
        return answer

    def _none(self, *sent: Any) -> dict[str, Any]:
        return self.asked(*sent)

    def _no_network(self, *sent: Any) -> dict[str, Any]:
        return NO_NETWORK

    def _error_before(self, *sent: Any) -> dict[str, Any]:
        return {"status": 500, "text": "Internal Server Error", "kind": "text/plain"}

    def _error_after_commit(self, *sent: Any) -> dict[str, Any]:
        self.asked(*sent)
        return self._error_before()

    def _stored_but_hung(self, *sent: Any) -> dict[str, Any]:
        self.asked(*sent)
        return {"status": -1, "text": "", "kind": ""}

    def _truncated(self, *sent: Any) -> dict[str, Any]:
        answer = self.asked(*sent)
        return answer | {"text": answer["text"][: len(answer["text"]) * 2 // 3]}

    def _duplicated(self, *sent: Any) -> dict[str, Any]:
        self.asked(*sent)
        return self.asked(*sent)

    def _arrives_late(self, *sent: Any) -> dict[str, Any]:
        self.late.append(sent)
        return self._no_network()

    def _an_older_answer(self, *sent: Any) -> dict[str, Any]:
        return self.last or self._no_network()

    def _portal(self, *sent: Any) -> dict[str, Any]:
        return {"status": 200, "text": PORTAL, "kind": "text/html"}

    def _portal_json(self, *sent: Any) -> dict[str, Any]:
        return {"status": 200, "text": '{"answers": []}', "kind": "application/json"}

    def _proxy(self, *sent: Any) -> dict[str, Any]:
        return {"status": 502, "text": "<h1>Bad Gateway</h1>", "kind": "text/html"}

    def _half_committed(self, path: str, method: str, token: str, body: str) -> dict[str, Any]:
        """Only the first half of the request reached the server before the line was cut."""
        message = json.loads(body)
        message["items"] = message["items"][: len(message["items"]) // 2]
        self.asked(path, method, token, json.dumps(message))
        return self._no_network()

    def _killed_mid_batch(self, *sent: Any) -> dict[str, Any]:
        return self._killing(taking.Head, "say", 2, *sent)

    def _killed_at_commit(self, *sent: Any) -> dict[str, Any]:
        return self._killing(taking.Ledgered, "commit", 1, *sent)

    def _killing(self, where: Any, name: str, at: int, *sent: Any) -> dict[str, Any]:
        """What a page hears of a server that is killed at the nth call of a function."""
        real, calls = getattr(where, name), []

        def killed(*args: Any, **kw: Any) -> Any:
            calls.append(1)
            if len(calls) == at:
                raise KilledError
            return real(*args, **kw)

        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(where, name, killed)
            answer = self.asked(*sent)
        return answer if answer["status"] == 200 else self._no_network()

    def deliver_late(self) -> None:
        """Everything that was under way arrives, the newest first."""
        while self.late:
            self.asked(*self.late.pop())


FAULTS = [
    name.removeprefix("_")
    for name in vars(Network)
    if name.startswith("_") and not name.startswith("__") and name not in ("_killing", "_none")
]


@contextmanager
def serving(phone: APhone) -> Iterator[Network]:
    """The app, listening, and a network before it."""
    app = create_app(Served(phone.engine, phone.n))
    with listening(app) as url, httpx.Client(base_url=url, trust_env=False, timeout=30) as client:
        network = Network(client)
        try:
            yield network
        finally:
            network.over = True


class Tab:
    """A page with an outbox. Everything it does happens in the browser's own thread."""

    def __init__(self, run: Callable[..., Any], page: Page, network: Network) -> None:
        self.run, self.page, self.network = run, page, network

    def does(self, script: str, *args: Any) -> Any:
        """A call of the outbox: ``tab.does("save", {...})``."""
        code = f"(args) => window.outbox.{script}(...args)"
        return self.run(lambda: self.page.evaluate(code, list(args)))

    def evaluate(self, script: str, arg: Any = None) -> Any:
        return self.run(lambda: self.page.evaluate(script, arg))

    def open(self, name: str, phone: APhone, operation: str) -> None:
        """The outbox of a profile, paired; the same name is the same phone started again."""
        self.evaluate("name => window.begin(name)", name)
        paired = {"token": phone.token, "device": str(phone.device), "operation": operation}
        self.does("pair", paired)

    def restart(self, name: str) -> None:
        """The browser comes back with nothing but its storage."""
        self.run(self.page.reload)
        self.run(lambda: self.page.wait_for_function("window.ready"))
        self.evaluate("name => window.begin(name)", name)

    def send(self, fault: str = "none") -> dict[str, Any]:
        self.network.fault = fault
        answer: dict[str, Any] = self.does("send")
        self.network.fault = "none"
        return answer


@contextmanager
def chromium_thread() -> Iterator[tuple[Callable[..., Any], Pages]]:
    path = shutil.which("chromium")
    if path is None:
        pytest.skip("chromium is not installed; apt-get install chromium")
    thread = ThreadPoolExecutor(max_workers=1)

    def run(work: Callable[..., Any], *args: Any) -> Any:
        return thread.submit(work, *args).result(timeout=120)

    try:
        playwright = run(sync_playwright().start)
        browser = run(lambda: playwright.chromium.launch(executable_path=path, args=FLAGS))
        yield run, Pages(browser)
        run(browser.close)
        run(playwright.stop)
    finally:
        thread.shutdown(wait=False)  # a browser that does not end holds up nobody


class Shown:
    """A page that is sent to an origin of its own each time, and so to a storage of its own."""

    def __init__(self, browser: Browser) -> None:
        self.page = browser.new_context().new_page()
        self.network: Network | None = None
        self.broken: dict[str, str] = {}
        self.page.route("**/*", self._served)
        self.page.expose_function("deliver", self._deliver)

    @property
    def spare(self) -> bool:
        return self.network is None or self.network.over

    def show(self, network: Network, broken: dict[str, str]) -> Page:
        self.network, self.broken = None, broken
        self.page.goto(next(ORIGINS))
        self.page.wait_for_function("window.ready")
        self.network = network
        return self.page

    def _deliver(self, *sent: Any) -> dict[str, Any]:
        """Whatever a page sends that was shown before is lost."""
        return self.network.deliver(*sent) if self.network else NO_NETWORK

    def _served(self, route: Route) -> None:
        name = urlsplit(route.request.url).path.strip("/")
        if not name.endswith(".js"):
            page = '<!doctype html><script type="module" src="/page.js"></script>'
            route.fulfill(body=page, content_type="text/html")
            return
        text = SCRIPT if name == "page.js" else (MODULES / name).read_text(encoding="utf-8")
        for old, new in self.broken.items() if name == "outbox.js" else ():
            assert old in text, f"outbox.js no longer has {old!r}"
            text = text.replace(old, new)
        route.fulfill(body=text, content_type="text/javascript")


class Pages:
    """The pages of a browser: one that is no longer used is shown anew, since a new one is dear."""

    def __init__(self, browser: Browser) -> None:
        self.browser = browser
        self.made: list[Shown] = []

    def show(self, network: Network, broken: dict[str, str]) -> Page:
        spare = next((held for held in self.made if held.spare), None)
        if spare is None:
            self.made.append(spare := Shown(self.browser))
        return spare.show(network, broken)


def opened(run: Any, pages: Pages, network: Network, broken: dict[str, str] | None = None) -> Tab:
    """A tab of a fresh profile; ``broken`` replaces text of outbox.js, for tests that must fail."""
    return Tab(run, run(pages.show, network, broken or {}), network)
