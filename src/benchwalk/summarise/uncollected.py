"""A season is read and reckoned without the garbage collector going through it again and again."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def uncollected() -> Iterator[None]:
    """Put the collector off while very many small rows are made that are all kept.

    None of them is part of a circle, so there is nothing to find, and looking for it takes as long
    as making them (bench/results/week_page.json is measured so).
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
