"""Every page there is: from each route of the application, and along each link of each page."""

from __future__ import annotations

import re
import uuid
from collections import Counter
from collections.abc import Iterator
from html import unescape
from urllib.parse import quote

import httpx
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records.accounts import links
from benchwalk.records.base import Base
from benchwalk.records.database import session, writing
from benchwalk.web import app, roles
from benchwalk.web.capture_pages import shell
from benchwalk.web.export_pages import OFFERED
from benchwalk.web.report_pages import FILES

OF_EACH = 8  # addresses of one route that are followed; own choice
OF_A_KIND = 2  # records of a kind that are read
# routes whose answers are no pages; each with what reads it instead
NO_PAGES = {
    "/api/v1/plan": "JSON for a phone, below",
    "/api/v1/photos/{digest}": "two numbers, of a photo that a phone sends",
    "/calendar/{token}.ics": "test_injection_into_files.py",
    "/exports/{name}": "test_injection_into_files.py",
    "/health/live": "a word of the program",
    "/health/ready": "words of the program; test_health.py",
    "/photos/{digest}": "a picture, made anew from what a phone sent; test_photos.py",
    "/pair": "leads to /phone/",
    "/phone": "leads to /phone/",
    "/phone/": "a file, the same for everybody",
    "/phone/{name}": "files, the same for everybody",
    "/report/{name}": "test_injection_into_files.py",
}
HREF = re.compile(r'(?:href|hx-get)="(/[^"#]*)')


def get_routes() -> list[str]:
    """Every path that is read, as the router spells it."""
    return sorted(path for method, path in roles.rights() if method == "GET")


def route_of(path: str) -> str:
    """The route that answers an address."""
    plain = path.partition("?")[0]
    for router in app.ROUTERS:
        for route in router.routes:
            if "GET" in route.methods and route.path_regex.fullmatch(plain):
                return route.path
    return ""


class Known:
    """Ids of an operation, by the name that paths have for them."""

    def __init__(self, engine: sa.Engine, operation: int, manager: uuid.UUID) -> None:
        self.engine, self.operation, self.manager = engine, operation, manager

    def of(self, path: str) -> list[dict[str, str]]:
        """Values for the parameters of a path, of each kind that there is."""
        names = re.findall(r"{(\w+)}", path)
        return [{}] if not names else list(self._filled(path, names))

    def _filled(self, path: str, names: list[str]) -> Iterator[dict[str, str]]:
        with session(self.engine, self.operation) as s:
            values = [self._values(s, path, name) for name in names]
        for n in range(max(len(held) for held in values)):
            yield {name: held[n % len(held)] for name, held in zip(names, values, strict=True)}

    def _values(self, s, path: str, name: str) -> list[str]:
        if name == "token":
            return [self._token(purpose) for purpose in _purposes(path)]
        if name == "name":
            return {"report": list(FILES), "exports": [o.name for o in OFFERED]}.get(
                path.split("/")[1], list(shell())
            )
        if name == "digest":
            return ["0" * 64]
        if name == "record":
            return list(self._records(s))
        model = {"unit": r.Unit, "walk": r.Walk, "person": r.Person, "device": r.Device}.get(name)
        if model is None:
            return [str(n) for n in s.scalars(sa.select({"n": r.Aside.n}[name]))]
        return [str(i) for i in s.scalars(sa.select(model.id).order_by(model.id.desc()))]

    def _records(self, s) -> Iterator[str]:
        """The newest of each kind, those that were changed first."""
        for mapper in Base.registry.mappers:
            model = mapper.class_
            if issubclass(model, r.Record):
                newest = sa.select(model.id).order_by(model.rev.desc(), model.id.desc())
                yield from (str(i) for i in s.scalars(newest.limit(OF_A_KIND)))

    def _token(self, purpose: str) -> str:
        with writing(self.engine, self.operation) as s:
            return links.make(s, purpose, None if purpose == "set_up" else self.manager)


def _purposes(path: str) -> list[str]:
    return ["calendar"] if path.startswith("/calendar") else ["choose", "enter", "set_up"]


def addresses(path: str, known: Known) -> list[str]:
    """Addresses of a route."""
    held = ({name: quote(v, safe="") for name, v in values.items()} for values in known.of(path))
    return [path.format(**values) for values in held]


def read_all(
    client: httpx.Client, known: Known, but: set[str], each: int = OF_EACH
) -> dict[str, httpx.Response]:
    """Every answer by its address: each route not in ``but``, then along the links, once each."""
    asked: dict[str, httpx.Response] = {}
    waiting = [
        a for path in get_routes() if path not in but for a in addresses(path, known)[: 8 * each]
    ]
    followed: Counter[str] = Counter()
    while waiting:
        address = waiting.pop(0)
        if address in asked:
            continue
        asked[address] = answer = client.get(address)
        for link in HREF.findall(answer.text if _is_page(answer) else ""):
            route = route_of(unescape(link))
            if route and route not in but and followed[route] < each:
                followed[route] += 1
                waiting.append(unescape(link))
    return asked


def _is_page(answer: httpx.Response) -> bool:
    return answer.headers.get("content-type", "").startswith("text/html")
