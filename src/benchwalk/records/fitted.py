"""What a forecast learned from the operation's own records, kept with its date."""

from __future__ import annotations

import datetime as dt
from typing import Any

from sqlalchemy.orm import Mapped, mapped_column

from benchwalk.records.base import Record, check


class Refit(Record):
    """Numbers a forecast starts from, learned once: the newest is used until another is made.

    `until_seq` is the newest row of the ledger that they were learned from.
    """

    __tablename__ = "refit"
    fitted_on: Mapped[dt.date]
    until_seq: Mapped[int]
    series: Mapped[int]
    counts: Mapped[int]
    numbers: Mapped[dict[str, Any]] = mapped_column(default=dict)
    constraints = (check("learned", "until_seq > 0 AND series >= 0 AND counts >= 0"),)
