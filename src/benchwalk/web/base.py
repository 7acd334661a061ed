"""What every route stands on. How to add one:

1. A module ``web/NAME_pages.py`` has ``router = APIRouter()`` and plain ``def`` handlers.
   ``app.py`` lists it in ``ROUTERS``. Nothing else is wired by hand.
2. A row for each route in ``roles.csv``: ``method,path,who`` with the path as the router spells it
   (``/units/{unit}``). ``who`` is ``anyone``, ``device`` or roles by name. Without a row the route
   is refused to everybody, and a test fails. HEAD follows GET.
3. A handler asks for what it needs by type::

       @router.get("/units/{unit}")
       def unit(scope: InScope, unit: uuid.UUID) -> Response:
           shown = unit_page(scope.session, unit)
           if shown is None:
               raise Missing
           return page(scope, "unit.html", unit=shown)

   ``scope`` holds ``operation``, ``person`` (id, pseudonym, name, role), ``locale``, ``today`` and
   ``session``, which adds the operation to every query and is closed at the end. Raw SQL has to
   say ``operation_id`` itself; a test reads every statement a page sends. ``AVisitor`` is the same
   without a person, for routes of ``anyone``; ``AScout`` is a phone with its scout (``phone``,
   ``scout``), for routes of ``device``, by two headers: ``Authorization: Bearer TOKEN`` and
   ``Benchwalk-Shift: TOKEN``.
4. Whatever writes does so in ``with scope.writing() as s:``, which holds the write lock, is by the
   person, and commits at its end. ``scope.session`` is for reading, and begins
   anew then: rows read before are read again. After a POST answer
   ``see("/units/...")`` (303), so that reloading repeats nothing.
5. ``page(scope, template, status=200, **shown)`` renders a template that extends ``base.html``.
   It is given ``locale``, ``t`` (the catalogue), ``person``, ``navigation``, ``number``.
   A number that stands for records is written ``{{ number("unit.UUID.target.density", text,
   href) }}``: the key becomes ``data-key``, the same in the pages and in ``--json``, and ``href``
   leads to the looks behind it. Forms are plain ``<form method="post">``: the same-origin rule in
   ``guard.py`` protects them, no hidden token is needed.
6. A page reads and records without JavaScript. htmx (``{% block scripts %}{% include
   "htmx.html" %}{% endblock %}``) only saves a reload: ``hx-get``, ``hx-target``, ``hx-select``; no
   ``hx-on``, no ``hx-vals='js:'``, no ``on...=``, no ``style=``: the policy refuses them, and a
   test reads every template. Own scripts are files in ``static/``, loaded with
   ``<script type="module" src="/static/NAME.js">`` in ``{% block scripts %}``.
7. Refusals of the library (`benchwalk.catalogue.Refusal`) become a page, 400, in the reader's
   language; ``Missing`` becomes 404, and so does a record of another operation. Under ``/api/``
   they are JSON: ``{"error": KEY, "message": SENTENCE}``.
8. At most ``QUERIES_MOST`` queries a page: every answer says how many in ``Benchwalk-Queries``,
   and the test clients fail above it.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Annotated
from zoneinfo import ZoneInfo

from fastapi import BackgroundTasks, Depends, Query
from sqlalchemy import Engine, select
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse

from benchwalk.records.accounts import devices, signing_in
from benchwalk.records.accounts.devices import OnShift, Phone
from benchwalk.records.accounts.signing_in import SignedIn
from benchwalk.records.database import session, writing
from benchwalk.records.ledger import Ledgered
from benchwalk.records.operations import Operation
from benchwalk.summarise import Summary
from benchwalk.summarise.foreseen import Kept
from benchwalk.summarise.gathered import EARLIEST, LATEST
from benchwalk.summarise.kept import KeptWeeks
from benchwalk.web import pages
from benchwalk.web.kept_words import KeptWords
from benchwalk.web.limits import Limits
from benchwalk.web.roles import ANYONE, DEVICE, who_may

PRIVATE = {"Cache-Control": "no-store"}  # kept by nobody on the way
QUERIES_MOST = 12
Day = Annotated[dt.date, Query(ge=EARLIEST, le=LATEST)]
HIGHEST = 2**63 - 1  # of a whole number that a database can be asked for
COOKIE, KNOWN = "benchwalk", "benchwalk-known"
NAVIGATION = (
    ("web.this_week", "/"),
    ("paper.title", "/paper"),
    ("conflict.title", "/conflicts"),
    ("web.phones", "/phones"),
    ("web.people", "/people"),
)
# at the foot of every page: what is read now and then
ONWARD = (
    ("page.to_report", "/report"),
    ("page.to_exports", "/exports"),
    ("page.to_ledger", "/ledger"),
    ("page.to_calibration", "/calibration"),
    ("page.to_calendar", "/calendar"),
)


class Missing(Exception):  # noqa: N818 - reads as what it says
    """There is no such thing here: 404, whether it never was or is another operation's."""


class NotSignedIn(Exception):  # noqa: N818 - reads as what it says
    """Nobody is signed in: a page leads to the sign-in, a program is told 401."""


class NotAllowed(Exception):  # noqa: N818 - reads as what it says
    """The route has no row in the table, or the row does not name this role."""


def _never() -> dt.datetime | None:
    return None


@dataclass(frozen=True)
class Served:
    """What one server serves: an operation of a database, and how it was started.

    ``last_proven`` says when a copy of the records was last proved by restoring it.
    """

    engine: Engine
    operation: int
    locale: str = "en"
    data: Path | None = None
    summary: Callable[[Ledgered], Summary | None] = field(default_factory=KeptWeeks)
    last_proven: Callable[[], dt.datetime | None] = _never
    limits: Limits = field(default_factory=Limits)
    ahead: Kept = field(default_factory=Kept)
    words: KeptWords = field(default_factory=KeptWords)

    @cached_property
    def zone(self) -> ZoneInfo:
        """The operation's time zone."""
        with session(self.engine, self.operation) as s:
            zone = select(Operation.zone).where(Operation.id == self.operation)
            return ZoneInfo(s.scalars(zone).one())


@dataclass(frozen=True)
class Visitor:
    """A request before anybody is signed in."""

    request: Request
    served: Served
    locale: str
    session: Ledgered

    @property
    def operation(self) -> int:
        """Number of the operation in this database."""
        return self.served.operation

    @property
    def source(self) -> str:
        """The network address the request comes from."""
        return self.request.client.host if self.request.client else "?"

    @property
    def today(self) -> dt.date:
        """The day it is where the operation is."""
        return dt.datetime.now(self.served.zone).date()

    @contextmanager
    def writing(self, by: uuid.UUID | None = None) -> Iterator[Ledgered]:
        """A session that writes, and commits at its end; what was read before is read again."""
        self.session.rollback()
        with writing(self.served.engine, self.served.operation, by) as s:
            yield s


@dataclass(frozen=True)
class Scope(Visitor):
    """A request of a person who is signed in and may use this route."""

    person: SignedIn

    @property
    def role(self) -> str:
        """What the person may do."""
        return self.person.role

    @contextmanager
    def writing(self, by: uuid.UUID | None = None) -> Iterator[Ledgered]:
        """A session that writes as the person, and commits at its end."""
        with super().writing(by or self.person.person) as s:
            yield s


@dataclass(frozen=True)
class Scout(Visitor):
    """A request of a paired phone; ``scout`` is None until somebody gave their PIN."""

    phone: Phone
    scout: OnShift | None


def served_by(request: Request) -> Served:
    """What the server of a request serves."""
    held = request.app.state.served
    assert isinstance(held, Served)
    return held


def cookie(request: Request, name: str) -> str:
    """The name of a cookie: over https one that no other host and no plain http can set."""
    return f"__Host-{name}" if request.url.scheme == "https" else name


def _session(request: Request) -> Iterator[Ledgered]:
    served = served_by(request)
    with session(served.engine, served.operation) as s:
        yield s


Reading = Annotated[Ledgered, Depends(_session)]


def admitted(request: Request, s: Reading, later: BackgroundTasks) -> SignedIn | Phone | None:
    """The one place that decides who may use a route. Runs before every handler of the app.

    Raises
    ------
    NotSignedIn, NotAllowed
        where the table says so, or says nothing.
    """
    who = who_may(request.method, request.scope["route"].path)
    if ANYONE in who:
        return None
    if DEVICE in who:
        return _phone(request, s)
    if not who:
        raise NotAllowed
    token = request.cookies.get(cookie(request, COOKIE))
    person = signing_in.signed_in(s, token) if token else None
    if person is None:
        raise NotSignedIn
    request.state.role = person.role
    if person.role not in who:
        raise NotAllowed
    later.add_task(_touch, request, person)  # once the answer is on its way: nobody waits for it
    return person


def _phone(request: Request, s: Ledgered) -> Phone:
    scheme, _, token = request.headers.get("authorization", "").partition(" ")
    phone = devices.phone_of(s, token) if scheme.lower() == "bearer" else None
    if phone is None:
        raise NotSignedIn
    return phone


def _touch(request: Request, person: SignedIn) -> None:
    if dt.datetime.now(dt.UTC) - person.last_used_at < signing_in.TOUCHED_EVERY:
        return
    served = served_by(request)
    with writing(served.engine, served.operation, person.person) as s:
        signing_in.touch(s, person.digest)


Admitted = Annotated[SignedIn | Phone | None, Depends(admitted)]


def visitor(request: Request, s: Reading, _: Admitted) -> Visitor:
    """A request of whoever."""
    served = served_by(request)
    return Visitor(request, served, pages.locale_of(request, served.locale), s)


def scope(request: Request, s: Reading, person: Admitted) -> Scope:
    """A request of the person who is signed in."""
    served = served_by(request)
    assert isinstance(person, SignedIn)  # a route that asks for a scope names roles in its row
    return Scope(request, served, pages.locale_of(request, served.locale), s, person)


def scout(request: Request, s: Reading, phone: Admitted) -> Scout:
    """A request of a phone, with the scout who gave their PIN."""
    served = served_by(request)
    assert isinstance(phone, Phone)  # a route that asks for a scout has ``device`` in its row
    token = request.headers.get("benchwalk-shift", "")
    held = devices.on_shift(s, phone.device, token) if token else None
    return Scout(request, served, pages.locale_of(request, served.locale), s, phone, held)


AVisitor = Annotated[Visitor, Depends(visitor)]
InScope = Annotated[Scope, Depends(scope)]
AScout = Annotated[Scout, Depends(scout)]


def page(who: Visitor, template: str, *, status: int = 200, **shown: object) -> HTMLResponse:
    """A page for whoever asked, with the navigation their role has."""
    person = who.person if isinstance(who, Scope) else None
    role = person.role if person else ""
    shown_page = pages.page(
        template,
        who.locale,
        status=status,
        person=person,
        navigation=[(key, path) for key, path in NAVIGATION if role in who_may("GET", path)],
        onward=[(key, path) for key, path in ONWARD if role in who_may("GET", path)],
        here=who.request.url.path,
        **shown,
    )
    if who.request.query_params.get("lang") == who.locale:
        shown_page.set_cookie(pages.LANGUAGE, who.locale, httponly=True, samesite="lax")
    return shown_page


def refused(status: int, error: str, **more: object) -> JSONResponse:
    """What a program is told where its request is not taken."""
    return JSONResponse({"error": error, **more}, status_code=status, headers=PRIVATE)


def see(path: str) -> RedirectResponse:
    """Go and read a page of this server, after something was changed (RFC 9110, 15.4.4)."""
    return RedirectResponse(inside(path), status_code=303)


def inside(path: str | None) -> str:
    """A path of this server; the week where what was given leads elsewhere.

    A browser reads two slashes, a slash and a backslash, or a control character between them as
    the way to another host.
    """
    if path is None or not path.startswith("/") or path[1:2] in ("/", "\\"):
        return "/"
    return path if path.isprintable() and "\\" not in path else "/"
