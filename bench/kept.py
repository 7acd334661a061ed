"""How the programs in this folder are asked, and how their results and tables are kept."""

from __future__ import annotations

import argparse
import json
import re
import subprocess
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parent.parent
RESULTS = ROOT / "bench" / "results"
PLACE = re.compile(r"(<!-- ([\w: ]+) -->\n).*?(<!-- end -->)", re.DOTALL)


def options(said: str | None) -> argparse.ArgumentParser:
    """The options of every program; without ``--write`` it only prints what it measured."""
    parser = argparse.ArgumentParser(description=str(said).partition("\n")[0])
    parser.add_argument("--write", action="store_true", help="write the results, and their page")
    return parser


def head(seed: Any) -> dict[str, Any]:
    """What stands first in all results: the seed, the commit that is measured, and the Python."""
    asked = ["git", "rev-parse", "HEAD"]
    done = subprocess.run(asked, cwd=ROOT, capture_output=True, text=True, check=True)
    return {"seed": seed, "commit": done.stdout.strip(), "python": sys.version.split()[0]}


def results(name: str) -> dict[str, Any]:
    """Results as they were written last."""
    held: dict[str, Any] = json.loads((RESULTS / f"{name}.json").read_text("utf-8"))
    return held


def keep(name: str, held: dict[str, Any], *, write: bool) -> None:
    """Print results, and write them as ``results/NAME.json`` where that is asked."""
    text = json.dumps(held, indent=1)
    print(text)
    if write:
        (RESULTS / f"{name}.json").write_text(text + "\n", encoding="utf-8")


def write_cells(name: str, held: dict[str, Any]) -> None:
    """Write results with a line for each cell of a list, so that a change of one can be read."""
    lines = []
    for key, value in held.items():
        if isinstance(value, list):
            body = ",\n  ".join(json.dumps(cell) for cell in value)
            lines.append(f'"{key}": [\n  {body}\n ]')
        else:
            lines.append(f'"{key}": {json.dumps(value)}')
    (RESULTS / f"{name}.json").write_text("{\n " + ",\n ".join(lines) + "\n}\n", encoding="utf-8")


def with_tables(page: str, tables: Mapping[str, Sequence[str]]) -> str:
    """The text of a page with the lines of these tables between ``<!-- NAME -->`` and its end."""

    def filled(place: re.Match[str]) -> str:
        lines = tables.get(place[2])
        return place[0] if lines is None else place[1] + "\n".join(lines) + "\n" + place[3]

    return PLACE.sub(filled, page)


def run_with_page(
    said: str | None,
    measure: Callable[..., None],
    page: Path,
    written: Callable[[str, dict[str, Any]], str],
    name: str,
) -> None:
    """Run a program that has a page: ``--docs`` only writes the page, from the results as kept."""
    parser = options(said)
    parser.add_argument("--docs", action="store_true", help="only write the page from the results")
    given = parser.parse_args()
    if not given.docs:
        measure(write=given.write)
    if given.docs or given.write:
        page.write_text(written(page.read_text("utf-8"), results(name)), encoding="utf-8")
