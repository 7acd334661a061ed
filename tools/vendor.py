"""Third-party files of the pages: fetched by npm, held to their hash, each with its licence.

`src/benchwalk/web/static/vendor/vendored.csv` has a row a file: what it is called here, the
package and version it came from, its path in the package, its sha256, its licence, and the file
of the licence's text.

    python tools/vendor.py --check     # offline: every file has its row and its hash
    python tools/vendor.py             # fetch again; refuses a file whose hash is another
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import io
import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path
from typing import NamedTuple

FOLDER = Path(__file__).parent.parent / "src" / "benchwalk" / "web" / "static" / "vendor"
TABLE = "vendored.csv"
# licences under which a file may be copied into this package as it is (SPDX names)
LICENCES = {"0BSD", "BSD-2-Clause", "BSD-3-Clause", "ISC", "MIT", "OFL-1.1"}


class Vendored(NamedTuple):
    """One file that was made elsewhere."""

    file: str
    package: str
    version: str
    member: str
    sha256: str
    licence: str
    licence_file: str


def rows(folder: Path) -> list[Vendored]:
    with (folder / TABLE).open(encoding="utf-8", newline="") as table:
        return [Vendored(**row) for row in csv.DictReader(table)]


def faults(folder: Path) -> list[str]:
    """Sentences, one for each file that is not what its row says, or has no row. Offline."""
    held = rows(folder)
    named = {row.file for row in held} | {row.licence_file for row in held} | {TABLE}
    strays = sorted(p.name for p in folder.iterdir() if p.name not in named)
    said = [f"{name}: no row in {TABLE} says where it is from" for name in strays]
    return said + [fault for row in held for fault in _of_row(folder, row)]


def _of_row(folder: Path, row: Vendored) -> list[str]:
    said = []
    if row.licence not in LICENCES:
        said.append(f"{row.file}: licence {row.licence} is not one of {sorted(LICENCES)}")
    if not (folder / row.licence_file).is_file():
        said.append(f"{row.file}: the text of its licence, {row.licence_file}, is not here")
    path = folder / row.file
    found = hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else "no file"
    if found != row.sha256:
        said.append(f"{row.file}: its row says sha256 {row.sha256}, and here is {found}")
    return said


def fetch(folder: Path) -> None:
    """Write every file anew from its package.

    Raises
    ------
    SystemExit
        if a file's hash is not that of its row: nothing of that package is written.
    """
    for row in rows(folder):
        content = _members(row)
        found = hashlib.sha256(content[row.member]).hexdigest()
        if found != row.sha256:
            raise SystemExit(f"{row.file}: its row says sha256 {row.sha256}, npm gave {found}")
        (folder / row.file).write_bytes(content[row.member])
        (folder / row.licence_file).write_bytes(content["LICENSE"])


def _members(row: Vendored) -> dict[str, bytes]:
    """The file and its licence, out of the package as npm packs it."""
    with tempfile.TemporaryDirectory() as work:
        packed = subprocess.run(
            ["npm", "pack", "--silent", f"{row.package}@{row.version}"],
            cwd=work,
            check=True,
            capture_output=True,
            text=True,
            timeout=300,
        )
        archive = (Path(work) / packed.stdout.strip()).read_bytes()
    with tarfile.open(fileobj=io.BytesIO(archive)) as package:
        return {name: _member(package, name) for name in (row.member, "LICENSE")}


def _member(package: tarfile.TarFile, name: str) -> bytes:
    held = package.extractfile(f"package/{name}")
    if held is None:
        raise SystemExit(f"{name} is not a file of the package")
    return held.read()


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--check", action="store_true", help="compare with the table; offline")
    if not parser.parse_args().check:
        fetch(FOLDER)
    found = faults(FOLDER)
    print("\n".join(found) or f"{len(rows(FOLDER))} files are what their rows say")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
