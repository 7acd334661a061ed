"""Who may use which route: one table, `roles.csv`, and whatever has no row is refused to everybody.

``who`` is ``anyone`` (no sign-in asked for), ``device`` (a phone's token), or roles by name.
"""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files

from benchwalk.records.accounts.people import ROLES

ANYONE, DEVICE = "anyone", "device"
Rights = dict[tuple[str, str], frozenset[str]]


@cache
def rights() -> Rights:
    """(method, path as the router spells it) -> who may use it."""
    text = (files(__package__) / "roles.csv").read_text(encoding="utf-8")
    table: Rights = {}
    for row in csv.DictReader(text.splitlines()):
        who, route = frozenset(row["who"].split()), (row["method"], row["path"])
        if not who <= {ANYONE, DEVICE, *ROLES} or not who or route in table:
            raise ValueError(f"roles.csv: {route} has to have one row, of roles {ROLES}: {who}")
        table[route] = who
    return table


def who_may(method: str, path: str) -> frozenset[str]:
    """Who may use a route; nobody where the table has no row. HEAD is answered as GET."""
    return rights().get((method, path), frozenset())
