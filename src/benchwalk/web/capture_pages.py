"""The phone's page and its files: one static shell, the same for everybody, nothing of anybody.

Whoever opens it sees a form for the pairing code; all that it shows later it asks for with its own
token (`web.phones_api`, `web.sync`). The files are those of ``capture/static``, and two that are
made of them: ``words.json``, the catalogue's sentences in every language, and ``files.js``, the
list that the service worker keeps, with a version that changes when any of them does.
"""

from __future__ import annotations

import hashlib
import json
from functools import cache
from pathlib import Path
from typing import NamedTuple

from fastapi import APIRouter
from starlette.responses import RedirectResponse, Response

from benchwalk.catalogue import LOCALES, strings
from benchwalk.web.base import Missing

router = APIRouter()
FOLDER = Path(__file__).parent / "capture" / "static"
FONTS = Path(__file__).parent / "static" / "fonts"
SCOPE = "/phone/"
WORDS = ("phone.", "reason.")
KINDS = {
    ".js": "text/javascript",
    ".css": "text/css",
    ".html": "text/html",
    ".svg": "image/svg+xml",
    ".json": "application/json",
    ".webmanifest": "application/manifest+json",
}
WORKER = ("sw.js", "files.js")  # the browser keeps these itself


class File(NamedTuple):
    """A file of the shell as it is sent."""

    kind: str
    content: bytes


@cache
def shell() -> dict[str, File]:
    """Every file by its name under ``/phone/``; the page itself has none."""
    read = {
        path.name: File(KINDS[path.suffix], path.read_bytes()) for path in sorted(FOLDER.iterdir())
    }
    read[""] = read.pop("index.html")
    read["words.json"] = File(KINDS[".json"], _words())
    read["files.js"] = File(KINDS[".js"], _list(read))
    return read


def _words() -> bytes:
    said = {
        locale: {key: text[locale] for key, text in strings().items() if key.startswith(WORDS)}
        for locale in LOCALES
    }
    return json.dumps(said, ensure_ascii=False, separators=(",", ":")).encode()


def _list(read: dict[str, File]) -> bytes:
    """What the worker keeps: the shell, and the fonts that its style asks for."""
    fonts = {path.name: path.read_bytes() for path in sorted(FONTS.glob("*.woff2"))}
    kept = [f"{SCOPE}{name}" for name in sorted(read) if name not in WORKER]
    version = hashlib.sha256()
    for content in (*(read[name].content for name in sorted(read)), *fonts.values()):
        version.update(hashlib.sha256(content).digest())
    files = json.dumps([*kept, *(f"/static/fonts/{name}" for name in fonts)])
    return f'self.FILES = {files};\nself.VERSION = "{version.hexdigest()[:16]}";\n'.encode()


@router.get("/pair")
@router.get("/phone")
def to_the_shell() -> Response:
    """The address that a pairing's picture holds; what stands after # goes along."""
    return RedirectResponse(SCOPE, status_code=308)


@router.get("/phone/")
def phone_page() -> Response:
    """The page."""
    return _file("")


@router.get("/phone/{name}")
def phone_file(name: str) -> Response:
    """A file of the page."""
    return _file(name)


def _file(name: str) -> Response:
    held = shell().get(name)
    if held is None:
        raise Missing
    return Response(held.content, media_type=held.kind)
