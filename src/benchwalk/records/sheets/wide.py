"""Rows of a wide sheet: a place and a day in each row, a pest and stage in each column."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

from benchwalk.records.sheets.context import Context, Fault, Sheet, cell
from benchwalk.records.sheets.counts import Taken, count_of, mean_taken, taken_as
from benchwalk.records.sheets.found import At, NothingSeen, NotLooked
from benchwalk.records.sheets.gathering import Gathering
from benchwalk.records.sheets.headings import CARDS, Tally, stage_on
from benchwalk.records.sheets.layout import Column
from benchwalk.records.sheets.names import Named
from benchwalk.records.sheets.per import Per
from benchwalk.records.sheets.values import Said


class WideRows:
    """Takes the rows of a wide sheet, cell by cell."""

    def __init__(self, sheet: Sheet, gathering: Gathering) -> None:
        self.sheet = sheet
        self.to = gathering

    def take(self, number: int, row: Sequence[str]) -> None:
        """Every cell of counts of a row, and its remark."""
        context = self.sheet.context(number, row)
        column = self.sheet.layout.column("remarks")
        remark = cell(row, column) if column else ""
        counted = any(cell(row, c).strip() for c in self.sheet.layout.tallies)
        if column and not counted and self._only_said(context, column, remark):
            return
        if not counted and not remark.strip() and context.fault:
            self._refused(number, row, context.fault)
        for tallied in self.sheet.layout.tallies:
            self._cell(context, tallied, cell(row, tallied))
        if column and remark.strip():
            self.to.remark(context, column, remark)

    def _only_said(self, context: Context, column: Column, remark: str) -> bool:
        """Take a row without counts whose remark is a treatment, or says that nothing was found."""
        if self.to.clean(remark) and context.on and context.unit and not context.plants_fault:
            self.to.nothing_seen.append(
                NothingSeen(
                    at=self.sheet.at(context.row, column),
                    on=context.on,
                    house=context.house,
                    unit=context.unit,
                    plant=context.plant,
                    plants=context.plants,
                    method="plant_count",
                    crop=context.crop,
                    scout=context.scout,
                )
            )
        elif context.plants is not None or not self.to.treated(context, column, remark, alone=True):
            return False
        self.to.read += 1
        return True

    def _refused(self, number: int, row: Sequence[str], fault: Fault) -> None:
        self.to.read += 1
        place = self.sheet.at(number, fault.column)
        if fault.column.index in self.sheet.block.added:
            place = self.sheet.block.row_at(number)
        self.to.reject(place, fault.reason, cell(row, fault.column))

    def _cell(self, context: Context, column: Column, raw: str) -> None:
        tally = None if column.tally is None else self._counted_as(column.tally, context)
        if tally is None or (context.fault and not raw.strip()):
            return
        self.to.read += 1
        place, value = self.sheet.at(context.row, column), self.to.said(raw, column)
        if value.how == "not_looked" and context.on is not None:
            self._not_looked(context, tally, place, raw, context.on)
            return
        method = "plant_infested" if value.how == "infested" else tally.method
        fault = self._fault(context, method, value)
        if fault is not None:
            self.to.reject(place, fault.reason, raw, fault.column)
            return
        self._count(context, column, tally, value, raw)

    def _counted_as(self, tally: Tally, context: Context) -> Tally:
        """A column as its row counts it: the row says the method where the heading says none."""
        if tally.method_said or tally.agreed or context.method in (None, tally.method):
            return tally
        method = "yellow_card" if context.method == "card" else str(context.method)
        if context.method == "card":
            self.to.assume("cards without a colour", method, self.sheet.block.row_at(context.row))
        stage = tally.stage if tally.stage_said else stage_on(tally.taxon, method)
        return replace(tally, method=method, stage=stage)

    def _fault(self, context: Context, method: str, value: Said) -> Fault | None:
        if value.how == "infested" and context.plants is None:
            return context.fault
        return context.fault_of(method)

    def _not_looked(self, context: Context, tally: Tally, place: At, raw: str, on: dt.date) -> None:
        self.to.not_looked.append(
            NotLooked(
                at=place,
                raw=raw,
                on=on,
                house=context.house,
                unit=context.unit,
                taxon=tally.taxon,
                stage=tally.stage,
                method=tally.method,
                crop=context.crop,
                scout=context.scout,
            )
        )

    def _count(self, context: Context, column: Column, tally: Tally, value: Said, raw: str) -> None:
        place = self.sheet.at(context.row, column)
        named = self._named(tally, place)
        if named.key is None:
            question = self.to.questions.open(tally.word)
            self.to.reject(place, named.reason or "unknown_pest", raw, question=question)
            return
        if tally.stage.startswith("!"):
            self.to.reject(place, "stage_not_possible", raw)
            return
        plants = context.plants or tally.plants
        if tally.per is not None and tally.per.percent:
            final = Taken(tally.stage, tally.method, reason=value.reason or "unreadable_text")
        elif self._is_mean(context, tally.per):
            final = mean_taken(raw, self.sheet.ways.decimal, tally.stage, tally.method)
            final = replace(final, of=context.cards if tally.method in CARDS else None)
        else:
            final = taken_as(value, named.key, tally.stage, tally.method, plants)
            final = self.to.of_cards(final, context)
        if final.reason is not None:
            self.to.reject(place, final.reason, raw)
            return
        self.to.records.append(
            count_of(
                context,
                place,
                final,
                named,
                raw=raw,
                taxon_raw=column.heading,
                per=tally.per,
                plants=plants,
                more_lacks=("count",) if final.how == "density" else (),
            )
        )

    def _is_mean(self, context: Context, per: Per | None) -> bool:
        """Whether a column holds means; where each row is one plant, or card, it holds counts."""
        if per is None:
            return False
        one = {"plant": context.plant, "card": context.station}.get(per.item or "")
        return per.days is not None or one is None

    def _named(self, tally: Tally, place: At) -> Named:
        """The pest of a heading: as the mapping says it, or as its word is read and asked."""
        if tally.agreed and tally.taxon is not None:
            return Named(tally.taxon, (tally.taxon,))
        return self.to.questions.name(tally.word, place)
