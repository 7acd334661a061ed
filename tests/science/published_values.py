"""Published tables in tests/science/published, each row with its status and source."""

import csv
from pathlib import Path

import numpy as np

FOLDER = Path(__file__).parent / "published"


def rows(name: str) -> list[dict[str, str]]:
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def column(name: str, key: str) -> np.ndarray:
    return np.array([float(row[key] or "nan") for row in rows(name)])


def counts(name: str, group_key: str, value_key: str, number_key: str) -> dict[str, np.ndarray]:
    """Frequency rows written out as one count for each sample unit."""
    found: dict[str, list[int]] = {}
    for row in rows(name):
        found.setdefault(row[group_key], []).extend([int(row[value_key])] * int(row[number_key]))
    return {group: np.array(values) for group, values in found.items()}


def mites() -> np.ndarray:
    """Counts on 150 apple leaves; no leaf had 8 or more."""
    return np.repeat(np.arange(9), column("mites_on_apple_leaves", "leaves").astype(int))


def insect_sprays() -> np.ndarray:
    """Six sprays (rows) of twelve plots."""
    return column("insect_sprays", "count").reshape(6, 12)
