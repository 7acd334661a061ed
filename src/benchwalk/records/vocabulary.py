"""What is counted, how, and on what. Rows with a short code that never changes.

Filled from the shipped reference when an operation is set up, so that every operation is complete
in itself; an operation may add its own words.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import BigInteger, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from benchwalk.records.base import Record, among, check, ref


class Term(Record):
    """A row of vocabulary. Other rows hold its code; its names may change."""

    __abstract__ = True
    code: Mapped[str] = mapped_column(String(48))
    names: Mapped[dict[str, Any]] = mapped_column(default=dict)  # {"en": .., "es": .., "own": [..]}
    source: Mapped[str | None]  # key of the bibliography; none: the operation's own


class Taxon(Term):
    """Species or honest upper level ("thrips, unresolved"); enemies and diseases too."""

    __tablename__ = "taxon"
    parent: Mapped[str | None] = mapped_column(String(48))
    kind: Mapped[str]
    scientific: Mapped[str | None]
    regulated: Mapped[bool] = mapped_column(default=False)
    constraints = (
        UniqueConstraint("operation_id", "code"),
        ref("parent", "taxon", "code"),
        among("kind", "pest", "disease", "enemy", "abiotic", "weed", "other"),
        check("parent", "parent IS NULL OR parent <> code"),
    )


class Stage(Term):
    """A life stage or a set of stages: bits that overlap are never added ("motile" and "adult")."""

    __tablename__ = "stage"
    bits: Mapped[int] = mapped_column(BigInteger)
    constraints = (
        UniqueConstraint("operation_id", "code"),
        UniqueConstraint("operation_id", "bits"),
        check("bits", "bits > 0"),
    )


class Method(Term):
    """How and on what: plant part and tool, or one size of card. Unlike methods never meet."""

    __tablename__ = "method"
    kind: Mapped[str]
    part: Mapped[str | None]  # plant part, for kind plant; "not_said" from sheets
    item: Mapped[str]  # what `examined.items` counts: leaf, flower, plant, square, disc
    colour: Mapped[str | None]
    area_cm2: Mapped[float | None]  # both printed sides of a full card; none: not said
    squares: Mapped[int | None]  # printed, both sides; none: not said
    void_after_h: Mapped[int | None]  # a potato disc: 72
    constraints = (
        UniqueConstraint("operation_id", "code"),
        among("kind", "plant", "card", "disc", "trap", "place"),
        check("part", "(kind = 'plant') = (part IS NOT NULL)"),
        check("card", "area_cm2 > 0 AND squares > 0"),
    )


class Crop(Term):
    """A crop, or a group of crops that others belong to."""

    __tablename__ = "crop"
    parent: Mapped[str | None] = mapped_column(String(48))
    edible: Mapped[bool | None]  # none: not known
    phases: Mapped[dict[str, Any]] = mapped_column(default=dict)  # {"rooting": 21, ...} days
    constraints = (
        UniqueConstraint("operation_id", "code"),
        ref("parent", "crop", "code"),
        check("parent", "parent IS NULL OR parent <> code"),
    )
