"""From what a cell says to a count of a pest at a stage."""

from __future__ import annotations

import re
from dataclasses import dataclass

from benchwalk.records.sheets.context import Context
from benchwalk.records.sheets.found import At, Count, How
from benchwalk.records.sheets.headings import HUNG
from benchwalk.records.sheets.names import Named, stage_of, stage_words_for
from benchwalk.records.sheets.per import Per
from benchwalk.records.sheets.values import Said, plain, said
from benchwalk.records.sheets.words import means

ITEMS = {"potato_disc": "disc", "pheromone_trap": "trap"}


@dataclass(frozen=True)
class Taken:
    """A count as it would be recorded; `reason` is why it is not."""

    stage: str
    method: str
    how: How = "counted"
    value: int | float | None = None
    of: int | None = None
    reason: str | None = None


def taken_as(said: Said, taxon: str, stage: str, method: str, plants: int | None) -> Taken:
    """What a cell's words come to, for a pest at a stage counted by a method.

    Parameters
    ----------
    stage : the stage of the row or column; "any" where none is said, then a stage named in the
        cell ("12 adults") is the stage.
    plants : plants inspected; a bare number under a heading of infested plants is of so many.
    """
    if said.how in ("rejected", "not_looked"):
        return Taken(stage, method, reason=said.reason or "unreadable_text")
    if said.stage_word is not None:
        found, reason = _stage(said.stage_word, taxon, stage)
        if reason is not None:
            return Taken(stage, method, reason=reason)
        stage = found
    if said.how == "infested" or method == "plant_infested":
        return _infested(said, stage, plants)
    return Taken(stage, method, said.how, said.value)  # type: ignore[arg-type]  # the other two ways are gone


def _stage(word: str, taxon: str, stage: str) -> tuple[str, str | None]:
    meant = stage_words_for(word)
    if not meant:
        return stage, "unreadable_text"
    if stage == "any":
        found = stage_of(word, taxon)
        return found or stage, None if found else "stage_not_possible"
    return stage, None if stage in meant else "stage_contradicts"


def _infested(said: Said, stage: str, plants: int | None) -> Taken:
    method = "plant_infested"
    of = plants if said.of is None else said.of
    over = said.value is not None and of is not None and said.value > of
    more = plants is not None and of is not None and 1 < plants < of
    if over or more:
        return Taken(stage, method, reason="infested_over_inspected")
    if said.how in ("at_least", "present"):
        return Taken(stage, method, said.how, said.value)
    if of is None:
        return Taken(stage, method, reason="missing_effort")
    return Taken(stage, method, "infested", said.value, of)


def mean_taken(raw: str, decimal: str, stage: str, method: str) -> Taken:
    """A mean: a number with or without decimals, or a word for none; nothing else is one."""
    text = plain(raw)
    mark, thousands = re.escape(decimal), r"\." if decimal == "," else ","
    # a mark of thousands leaves no doubt where decimals stand behind it
    if re.fullmatch(rf"[1-9][0-9]{{0,2}}(?:{thousands}[0-9]{{3}})+{mark}[0-9]+", text):
        text = re.sub(thousands, "", text)
    if re.fullmatch(rf"[0-9]{{1,9}}({mark}[0-9]+)?", text):
        return Taken(stage, method, "density", float(text.replace(decimal, ".")))
    if means(text) in ("zero", "clean"):
        return Taken(stage, method, "density", 0.0)
    found = said(raw, decimal=decimal)
    return Taken(stage, method, reason=found.reason or "unreadable_text")


def count_of(
    context: Context,
    at: At,
    taken: Taken,
    named: Named,
    *,
    raw: str,
    taxon_raw: str,
    per: Per | None = None,
    plants: int | None = None,
    more_lacks: tuple[str, ...] = (),
) -> Count:
    """The count of a row that has a day, a unit and a name.

    Raises
    ------
    ValueError
        if the row has no day, unit or name: its fault was not looked at.
    """
    if context.on is None or context.unit is None or named.key is None:
        raise ValueError(
            f"row {context.row} has no day, unit or name; expected its fault to be told"
        )
    card = taken.method in HUNG
    plants = None if card else plants or context.plants
    item = (per.item if per and per.item else context.item) if not card else None
    if taken.how == "infested":
        item = None
    lacks = context.lacks(taken.method)
    if per is not None and per.days is not None:
        lacks = tuple(lack for lack in lacks if lack != "exposure")
    if plants is not None:
        lacks = tuple(lack for lack in lacks if lack != "plants_inspected")
    return Count(
        at=at,
        on=context.on,
        house=context.house,
        unit=context.unit,
        unit_raw=context.unit_raw,
        method=taken.method,
        sampling_unit=ITEMS.get(taken.method, "card") if card else item or "plant",
        taxon=named.key,
        taxon_raw=taxon_raw,
        stage=taken.stage,
        how=taken.how,
        value=taken.value,
        of=taken.of,
        plant=None if card else context.plant,
        plants=taken.of if taken.how == "infested" else plants,
        items=context.items if item and item == context.item else None,
        time=context.time,
        station=context.station if card else None,
        hung_on=context.hung_on if card else None,
        squares_counted=context.squares_counted if card else None,
        squares_printed=context.squares_printed if card else None,
        crop=context.crop,
        scout=context.scout,
        lacks=(*lacks, *more_lacks) if taken.of is None or card else more_lacks,
        per_days=per.days if per else None,
        raw=raw,
        resolved="proposed" if named.proposed else None,
    )
