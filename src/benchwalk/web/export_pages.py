"""Everything can leave by the browser too: the exports of `benchwalk export`, one file each."""

from __future__ import annotations

import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from fastapi import APIRouter
from starlette.background import BackgroundTask
from starlette.responses import FileResponse, Response

from benchwalk.records.exports import WORKBOOK, Kind, export
from benchwalk.web.base import InScope, Missing, NotAllowed, Scope, page

router = APIRouter()
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@dataclass(frozen=True)
class Offered:
    """A kind of export: its file here, and which roles may have it.

    The full one holds names of people and everything ever said, so it is the manager's.
    """

    kind: Kind
    name: str
    roles: tuple[str, ...] = ("grower", "manager", "advisor")


OFFERED = (
    Offered(Kind.XLSX, "records.xlsx"),
    Offered(Kind.PACKAGE, "package.zip"),
    Offered(Kind.PARQUET, "parquet.zip"),
    Offered(Kind.DARWIN, "darwin.zip"),
    Offered(Kind.FULL, "full.zip", ("manager",)),
)


@router.get("/exports")
def exports(scope: InScope) -> Response:
    """The kinds of export that this role may have."""
    offered = [one for one in OFFERED if scope.role in one.roles]
    return page(scope, "exports.html", offered=offered)


@router.get("/exports/{name}")
def file(scope: InScope, name: str) -> Response:
    """One export, made now, of one moment of the records."""
    offered = next((one for one in OFFERED if one.name == name), None)
    if offered is None:
        raise Missing
    if scope.role not in offered.roles:
        raise NotAllowed
    return _made(scope, offered)


def _made(scope: Scope, offered: Offered) -> Response:
    """The export as one file, which is gone from here once it was sent."""
    with ExitStack() as held:
        place = Path(held.enter_context(tempfile.TemporaryDirectory(prefix="benchwalk-export-")))
        done = export(
            scope.served.engine, scope.operation, offered.kind, lambda called: place / called
        )
        file, kind = _one_file(offered.kind, done.folder)
        sent = held.pop_all()
    return FileResponse(
        file,
        media_type=kind,
        filename=f"{done.folder.name}{file.suffix}",
        headers={"Cache-Control": "no-store"},
        background=BackgroundTask(sent.close),
    )


def _one_file(kind: Kind, folder: Path) -> tuple[Path, str]:
    if kind is Kind.XLSX:
        return folder / WORKBOOK, XLSX
    return _zipped(folder), "application/zip"


def _zipped(folder: Path) -> Path:
    packed = folder.with_name(f"{folder.name}.zip")
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in _files(folder):
            archive.write(path, Path(folder.name) / path.relative_to(folder))
    return packed


def _files(folder: Path) -> Iterator[Path]:
    yield from sorted(path for path in folder.rglob("*") if path.is_file())
