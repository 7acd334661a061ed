"""One row of the counts: a tally with its effort, or a place of which there is none and why."""

from __future__ import annotations

import datetime as dt
from typing import NamedTuple

FOUND = "found"
NONE = "looked, none"
NOT_LOOKED = "not looked"
NOT_SENT = "not sent yet"
NO_WORD = "no word"
VOID = "void"
ABSENT = (NOT_LOOKED, NOT_SENT, NO_WORD, VOID)  # nobody can say how many there were
LOOKED = (FOUND, NONE)
UNCOUNTED = {"present": "present", "density": "mean only"}  # seen, but no number was said
NOTHING_EXAMINED, NOTHING_FOUND = "nothing examined", "nothing found"


class Count(NamedTuple):
    """One tally with its effort, or one place of which there is none and why.

    Attributes
    ----------
    looked : found; looked, none; not looked; not sent yet; no word; void.
    reason : why nobody looked, or why a record was voided; "nothing found" for a look that holds
        no tally: none of anything that was looked for in that way.
    number : individuals; None where none was said.
    mean : individuals per plant or card, where only a mean was said.
    plants, items, of_items : effort: plants inspected (None for a card); leaves, flowers, squares
        examined; squares printed. None where not said.
    """

    walk_on: dt.date
    house: str | None
    unit: str | None
    looked: str
    reason: str | None
    taxon: str | None
    stage: str | None
    method: str | None
    how: str | None
    number: int | None
    mean: float | None
    infested: int | None
    rating: int | None
    plants: int | None
    items: int | None
    of_items: int | None
    crop: str | None
    station: str | None
    card_state: str | None
    since: str | None
    counted: str | None
    kind: str | None
    why: str | None
    why_assumed: bool | None
    position: str | None
    seen_at: dt.datetime | None
    hung_at: dt.datetime | None
    scout: str | None
    walk_id: str
    unit_id: str | None
    observation_id: str | None

    @property
    def number_said(self) -> int | str | None:
        """The number, or the word for there being none."""
        if self.looked in ABSENT:
            return self.looked
        return UNCOUNTED.get(self.how, self.number) if self.how else self.number

    @property
    def place(self) -> str:
        """House and unit in one, for a person to read."""
        return " / ".join(name for name in (self.house, self.unit) if name is not None)


BLANK = Count(**dict.fromkeys(Count._fields))  # type: ignore[arg-type]  # filled in at once
