"""The vocabulary of an operation, all of it in one question."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import BigInteger, Boolean, ColumnElement, String, cast, literal, null, select
from sqlalchemy import union_all as all_of
from sqlalchemy.orm import Session

from benchwalk.records.vocabulary import Crop, Method, Stage, Taxon, Term

_COLUMNS = {
    "parent": String,
    "kind": String,
    "scientific": String,
    "part": String,
    "item": String,
    "regulated": Boolean,
    "edible": Boolean,
    "bits": BigInteger,
    "squares": BigInteger,
}
_TERMS: tuple[type[Term], ...] = (Taxon, Stage, Method, Crop)


@dataclass(frozen=True)
class Vocabulary:
    """Terms by their code. They are read to be looked at: a change to one is not written."""

    taxa: Mapping[str, Taxon]
    stages: Mapping[str, Stage]
    methods: Mapping[str, Method]
    crops: Mapping[str, Crop]


def vocabulary(session: Session) -> Vocabulary:
    """Every taxon, stage, method and crop of the operation, with what a page needs of each."""
    held: dict[str, dict[str, Any]] = {model.__tablename__: {} for model in _TERMS}
    models = {model.__tablename__: model for model in _TERMS}
    for row in session.execute(all_of(*(_of(model) for model in _TERMS))):
        model = models[row.table]
        said = {name: value for name, value in row._mapping.items() if hasattr(model, name)}
        held[row.table][row.code] = model(**said)
    return Vocabulary(held["taxon"], held["stage"], held["method"], held["crop"])


def _of(model: type[Term]) -> Any:
    columns = [_column(model, name, type_) for name, type_ in _COLUMNS.items()]
    return select(
        literal(model.__tablename__).label("table"), model.code, model.names, model.source, *columns
    )


def _column(model: type[Term], name: str, type_: type[Any]) -> ColumnElement[Any]:
    held = getattr(model, name, None)
    return cast(null() if held is None else held, type_).label(name)
