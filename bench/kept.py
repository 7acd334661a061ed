"""Where the results of the programs in this folder are kept, and in which form."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path
from typing import Any

RESULTS = Path(__file__).parent / "results"


def commit() -> str:
    """The commit that is measured."""
    head = ["git", "rev-parse", "HEAD"]
    done = subprocess.run(head, cwd=RESULTS, capture_output=True, text=True, check=True)
    return done.stdout.strip()


def keep(name: str, held: dict[str, Any]) -> None:
    """Write results as ``results/NAME.json`` and print them."""
    text = json.dumps(held, indent=1)
    (RESULTS / f"{name}.json").write_text(text + "\n", encoding="utf-8")
    print(text)


def keep_cells(name: str, held: dict[str, Any]) -> None:
    """The same with a line for each cell of a list, so that a change of one can be read."""
    lines = []
    for key, value in held.items():
        if isinstance(value, list):
            body = ",\n  ".join(json.dumps(cell) for cell in value)
            lines.append(f'"{key}": [\n  {body}\n ]')
        else:
            lines.append(f'"{key}": {json.dumps(value)}')
    (RESULTS / f"{name}.json").write_text("{\n " + ",\n ".join(lines) + "\n}\n", encoding="utf-8")
