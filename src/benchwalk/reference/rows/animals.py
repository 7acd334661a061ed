"""What is counted: taxa, their stages, and every way people write either of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from benchwalk.reference.reading import Cited, To

TaxonKey = Annotated[str, To("taxa")]
StageKey = Annotated[str, To("stage_vocabulary")]
StageClassKey = Annotated[str, To("stage_classes")]
MethodKey = Annotated[str, To("methods")]
PartKey = Annotated[str, To("plant_parts")]
Language = Literal["en", "es", "de", "la", "abbr"]


@dataclass(frozen=True, kw_only=True)
class Taxon(Cited):
    """A taxon, or an honest upper level ("thrips, unresolved").

    An EPPO code stands only where it was seen: ``official`` on EPPO's own pages, ``secondary`` in
    an open list that cites them.
    """

    table = "taxa"
    key = ("taxon_key",)
    taxon_key: str
    role: Literal["pest", "beneficial", "pathogen", "other"]
    rank: Literal[
        "root", "group", "guild", "family", "subfamily", "genus", "species_complex", "species"
    ]
    parent_key: TaxonKey | None
    scientific_name: str | None
    common_name: str
    eppo_code: str | None
    eppo_status: Literal["official", "secondary"] | None
    note: str | None


@dataclass(frozen=True, kw_only=True)
class TaxonAlias(Cited):
    """An older or newer scientific name of a taxon."""

    table = "taxon_aliases"
    key = ("alias", "alias_kind")
    alias: str
    alias_kind: Literal["older_name", "newer_name"]
    taxon_key: TaxonKey


@dataclass(frozen=True, kw_only=True)
class TaxonName(Cited):
    """One way of writing a taxon; a name may stand for several taxa, each in its own row.

    The first row of a taxon in a language is the name that pages show.
    """

    table = "taxon_names"
    key = ("name", "language", "taxon_key")
    name: str
    language: Language
    taxon_key: TaxonKey


@dataclass(frozen=True, kw_only=True)
class Regulated(Cited):
    """A taxon on a regulated list of a region; the list is to be checked there."""

    table = "regulated"
    key = ("taxon_key", "region", "list_name")
    taxon_key: TaxonKey
    region: str
    list_name: Literal["priority_pest", "quarantine", "A2", "RNQP"]


@dataclass(frozen=True, kw_only=True)
class StageClass(Cited):
    """A coarse word for stages, used to say what an active works on."""

    table = "stage_classes"
    key = ("class_key",)
    class_key: str
    name: str
    description: str


@dataclass(frozen=True, kw_only=True)
class StageWord(Cited):
    """A stage, or a set of stages, and its names.

    The order of the file gives each basic stage its bit in the records: append rows, never move
    or remove one.
    """

    table = "stage_vocabulary"
    key = ("stage_key",)
    stage_key: str
    name_en: str
    name_es: str


@dataclass(frozen=True, kw_only=True)
class StageName(Cited):
    """One way of writing a stage. A word with several rows means what the taxon can be:
    "immature" is a nymph of a whitefly and a larva of a thrips.
    """

    table = "stage_names"
    key = ("name", "language", "stage_key")
    name: str
    language: Language
    stage_key: StageKey


@dataclass(frozen=True, kw_only=True)
class Stage(Cited):
    """A stage that a taxon goes through, in its order; equal numbers are parallel forms."""

    table = "stages"
    key = ("taxon_key", "stage_key")
    taxon_key: TaxonKey
    stage_key: StageKey
    sort_order: int
    stage_class: StageClassKey
    scouted: bool
    method_keys: tuple[MethodKey, ...]
    part_keys: tuple[PartKey, ...]
    note: str | None


@dataclass(frozen=True, kw_only=True)
class StageSet(Cited):
    """One member of a named set of stages of a taxon ("motile", "nymph_3_4")."""

    table = "stage_sets"
    key = ("taxon_key", "set_key", "stage_key")
    taxon_key: TaxonKey
    set_key: StageKey
    stage_key: StageKey


@dataclass(frozen=True, kw_only=True)
class Lookalike(Cited):
    """Another taxon, or a cause that is not alive, that is taken for this one."""

    table = "lookalikes"
    key = ("taxon_key", "lookalike_key", "abiotic_cause")
    taxon_key: TaxonKey
    lookalike_key: TaxonKey | None
    abiotic_cause: str | None
    feature: str | None


@dataclass(frozen=True, kw_only=True)
class Virus(Cited):
    """An agent that a pest carries from plant to plant."""

    table = "viruses"
    key = ("vector_key", "agent_key")
    vector_key: TaxonKey
    agent_key: TaxonKey
    role: Literal["transmits", "carries_pollen", "carries_spores"]
    note: str | None
