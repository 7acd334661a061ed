"""What a figure on a page stands for, as one text: the same wherever the figure is shown."""

from __future__ import annotations

import datetime as dt
from urllib.parse import urlencode

from benchwalk.summarise import Key, Series


def number_key(key: Key, what: str, on: dt.date | None = None) -> str:
    """Reads "unit.UUID.taxon.stage.method.what", with a day where it is not the week's."""
    parts = ["unit", str(key.unit_id), key.taxon, key.stage, key.method, what]
    return ".".join(parts if on is None else [*parts, on.isoformat()])


def looks_address(series: Series) -> str:
    """Where the looks behind a series are shown."""
    return looks_of(series.key, series.on, series.why)


def looks_of(key: Key, on: dt.date, why: str = "sample") -> str:
    """The same, of a key and a day."""
    asked = {
        "unit": key.unit_id,
        "pest": key.taxon,
        "stage": key.stage,
        "method": key.method,
        "on": on.isoformat(),
    }
    return f"/looks?{urlencode(asked if why == 'sample' else asked | {'why': why})}"
