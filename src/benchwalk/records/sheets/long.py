"""Rows of a long sheet: one count in each row, its pest and stage in columns of their own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from benchwalk.records.sheets.context import Context, Fault, Sheet, cell
from benchwalk.records.sheets.counts import count_of, mean_taken, taken_as
from benchwalk.records.sheets.found import At, NothingSeen, NotLooked, SheetRefused
from benchwalk.records.sheets.gathering import Gathering
from benchwalk.records.sheets.headings import pest_and_stage, stage_on
from benchwalk.records.sheets.layout import Column
from benchwalk.records.sheets.names import Named, stage_of
from benchwalk.records.sheets.values import Said
from benchwalk.records.sheets.words import means


@dataclass(frozen=True)
class Line:
    """A row taken apart: the cells of its one count as written."""

    context: Context
    place: At
    pest: str
    stage: str
    count: str
    mean: str
    said: Said
    method: str


class LongRows:
    """Takes the rows of a long sheet."""

    def __init__(self, sheet: Sheet, gathering: Gathering) -> None:
        self.sheet = sheet
        self.to = gathering
        self.count = _needed(sheet, "count", "infested")
        self.pest = _needed(sheet, "pest")
        self.infested = sheet.layout.column("count") is None
        self._both: dict[str, tuple[str, str]] = {}

    def take(self, number: int, row: Sequence[str]) -> None:
        """The count of a row and its remark; a row without either pest or count is its remark."""
        line = self._line(number, row)
        column = self.sheet.layout.column("remarks")
        remark = cell(row, column) if column else ""
        if not (line.pest.strip() or line.count.strip() or line.mean.strip()):
            self._without_count(line, column, remark)
            return
        self.to.read += 1
        nothing = means(line.pest) in ("zero", "clean")
        if nothing:
            self._nothing(line)
        elif means(line.pest) == "not_looked":
            self._whole_look(line)
        else:
            self._counted(line, row)
        if column and remark.strip() and not (nothing and self.to.clean(remark)):
            self.to.remark(line.context, column, remark)

    def _line(self, number: int, row: Sequence[str]) -> Line:
        context = self.sheet.context(number, row)
        count = cell(row, self.count)
        said = self.to.said(count, self.count)
        pest, stage = self._pest_and_stage(cell(row, self.pest), self._text(row, "stage"))
        return Line(
            context=context,
            place=self.sheet.at(number, self.count),
            pest=pest,
            stage=stage,
            count=count,
            mean=self._text(row, "mean"),
            said=said,
            method=self._method(context, said),
        )

    def _pest_and_stage(self, pest: str, stage: str) -> tuple[str, str]:
        """The pest and its stage, where one cell names both and no other cell names a stage."""
        if not pest.strip() or stage.strip():
            return pest, stage
        if pest not in self._both:
            self._both[pest] = pest_and_stage(pest, self.to.questions.own) or (pest, stage)
        return self._both[pest]

    def _text(self, row: Sequence[str], meaning: str) -> str:
        column = self.sheet.layout.column(meaning)
        return cell(row, column) if column else ""

    def _method(self, context: Context, said: Said) -> str:
        if self.infested or said.how == "infested":
            return "plant_infested"
        if context.method == "card":
            self.to.assume(
                "cards without a colour", "yellow_card", self.sheet.block.row_at(context.row)
            )
            return "yellow_card"
        return context.method or "plant_count"

    def _without_count(self, line: Line, column: Column | None, remark: str) -> None:
        self.to.read += 1
        if column and self.to.clean(remark):
            self._nothing(line)
        elif not (
            column and remark.strip() and self.to.treated(line.context, column, remark, alone=True)
        ):
            self._not_looked(line, self.sheet.block.row_at(line.context.row), remark)

    def _nothing(self, line: Line) -> None:
        """A look that found no pest; a number beside "none" contradicts it."""
        context = line.context
        fault = context.fault_of(line.method)
        if line.said.value or line.said.how in ("present", "rejected"):
            self._fault(context.row, self.pest, "unknown_pest")
        elif line.count.strip() and line.said.how == "not_looked":
            self._not_looked(line, line.place, line.count)
        elif fault is not None:
            self._fault(context.row, fault.column, fault.reason)
        elif context.on is not None and context.unit is not None:
            self.to.nothing_seen.append(
                NothingSeen(
                    at=line.place,
                    on=context.on,
                    house=context.house,
                    unit=context.unit,
                    plant=context.plant,
                    plants=context.plants,
                    method=line.method,
                    crop=context.crop,
                    scout=context.scout,
                )
            )

    def _fault(self, number: int, column: Column, reason: str, question: str | None = None) -> None:
        """Refuse a row at the cell that is at fault."""
        block = self.sheet.block
        raw, because = cell(block.rows[number - 1], column), None
        place = self.sheet.at(number, column)
        if block.shares(column.index):
            # said once for several counts: a count's own place is its cell
            place = self.sheet.at(number, self.count)
            because = None if column.index in block.added else column
        self.to.reject(place, reason, raw, because, question)

    def _whole_look(self, line: Line) -> None:
        """A look that was not made, said where a pest would stand; a count contradicts it."""
        if line.said.how == "not_looked":
            self._not_looked(line, line.place, line.count)
        else:
            self._fault(line.context.row, self.pest, "unknown_pest")

    def _not_looked(self, line: Line, place: At, raw: str) -> None:
        context = line.context
        fault = context.fault
        if context.on is None or context.unit is None:
            date = _needed(self.sheet, "date")
            fault = fault or Fault("missing_date", date)
            self._fault(context.row, fault.column, fault.reason)
            return
        named = line.pest.strip() != "" and means(line.pest) != "not_looked"
        taxon = self.to.questions.name(line.pest, place).key if named else None
        self.to.not_looked.append(
            NotLooked(
                at=place,
                raw=raw,
                on=context.on,
                house=context.house,
                unit=context.unit,
                taxon=taxon,
                stage=stage_of(line.stage, taxon) if taxon else None,
                method=line.method,
                crop=context.crop,
                scout=context.scout,
            )
        )

    def _counted(self, line: Line, row: Sequence[str]) -> None:
        if line.said.how == "not_looked" and (line.count.strip() or not line.mean.strip()):
            self._not_looked(line, line.place, line.count)
            return
        number, fault = line.context.row, line.context.fault
        if fault is not None:
            self._fault(number, fault.column, fault.reason)
            return
        if not line.pest.strip():
            self._fault(number, self.pest, "missing_pest")
            return
        named = self.to.questions.name(line.pest, self.sheet.at(number, self.pest))
        if named.key is None:
            question = self.to.questions.open(line.pest)
            self._fault(number, self.pest, named.reason or "unknown_pest", question)
            return
        self._staged(line, named, named.key)

    def _staged(self, line: Line, named: Named, taxon: str) -> None:
        number, column = line.context.row, self.sheet.layout.column("stage")
        stage: str | None = stage_on(taxon, line.method)
        if line.stage.strip():
            stage = stage_of(line.stage, taxon)
            if stage is None:
                self._fault(number, column or self.pest, "stage_not_possible")
                return
        effort = line.context.fault_of(line.method)
        if effort is not None and line.said.of is None:
            self._fault(number, effort.column, effort.reason)
            return
        self._take(line, named, taxon, stage or "any")

    def _take(self, line: Line, named: Named, taxon: str, stage: str) -> None:
        place, raw = line.place, line.count
        mean = self.sheet.layout.column("mean")
        if line.said.how == "not_looked" and mean:
            place, raw = self.sheet.at(line.context.row, mean), line.mean
            taken = mean_taken(line.mean, self.sheet.ways.decimal, stage, line.method)
            lacks: tuple[str, ...] = ("count",)
        else:
            taken = taken_as(line.said, taxon, stage, line.method, line.context.plants)
            taken = self.to.of_cards(taken, line.context)
            lacks = ()
        if taken.reason is not None:
            self.to.reject(place, taken.reason, raw)
            return
        if taken.stage == "any" and not line.stage.strip():
            lacks = (*lacks, "stage")
        self.to.records.append(
            count_of(
                line.context, place, taken, named, raw=raw, taxon_raw=line.pest, more_lacks=lacks
            )
        )


def _needed(sheet: Sheet, *meanings: str) -> Column:
    columns = [c for m in meanings if (c := sheet.layout.column(m)) is not None]
    if not columns:
        raise SheetRefused(
            "file_is_not_a_table",
            f"{sheet.block.file} has no column of {' or '.join(meanings)}; expected one in a sheet"
            " with a row for each count: name it in the mapping",
        )
    return columns[0]
