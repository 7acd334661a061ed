"""What is grown: crops and groups of crops, their names, and their phases."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from benchwalk.reference.reading import Cited, To

CropKey = Annotated[str, To("crops")]
PhaseKey = Annotated[str, To("phases")]


@dataclass(frozen=True, kw_only=True)
class Crop(Cited):
    """A crop, a group of crops, or a plant that only hosts a study (``host_only``).

    ``edible`` is None where a group holds both kinds or the question has no meaning.
    """

    table = "crops"
    key = ("crop_key",)
    crop_key: str
    category: Literal["group", "ornamental", "vegetable", "fruit", "herb", "host_only"]
    edible: bool | None
    greenhouse: bool
    parent_key: CropKey | None
    name: str


@dataclass(frozen=True, kw_only=True)
class CropName(Cited):
    """One way of writing a crop. The first row of a crop in a language is what pages show."""

    table = "crop_names"
    key = ("name", "language", "crop_key")
    name: str
    language: Literal["en", "es", "de"]
    crop_key: CropKey


@dataclass(frozen=True, kw_only=True)
class Phase(Cited):
    """A phase of a crop between arrival and shipping."""

    table = "phases"
    key = ("phase_key",)
    phase_key: str
    sort_order: int
    parent_key: PhaseKey | None
    name: str
    name_es: str


@dataclass(frozen=True, kw_only=True)
class BbchPrincipal(Cited):
    """A principal growth stage of the BBCH scale; the digit is text."""

    table = "bbch_principal"
    key = ("stage_digit",)
    stage_digit: str
    name: str
