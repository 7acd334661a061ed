"""Published thresholds, and the few of them that a density is measured against."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Annotated, Literal

from benchwalk.catalogue import say
from benchwalk.reference.reading import Cited, To
from benchwalk.reference.rows.animals import MethodKey, StageKey, TaxonKey
from benchwalk.reference.rows.counting import QuantityKindKey, SamplingUnitKey
from benchwalk.reference.rows.crops import CropKey, PhaseKey

ThresholdKey = Annotated[str, To("thresholds")]

RECORD_KINDS: Mapping[str, str] = MappingProxyType(
    {
        "action": "action",
        "economic_threshold": "economic",
        "economic_injury_level": "economic",
        "biocontrol_start": "start_biocontrol",
        "inspect": "inspect",
        "ship": "ship",
    }
)
"""Kind in the table -> kind of a threshold in the records.

Kinds that are not here (risk level, reference, biocontrol limit, release ratio, sampling rule) are
facts for the reader: no density is compared with them.
"""

STRIP_KINDS = frozenset({"action", "economic"})
"""Kinds in the records that make a threshold strip; the others ask for another look or for care."""


@dataclass(frozen=True, kw_only=True)
class Threshold(Cited):
    """A threshold of one crop, phase, pest, stage and method.

    ``low`` and ``high`` are in the unit of ``quantity_kind``: low alone means "at or above"
    (``low_inclusive`` False: "more than"), high alone "below high, lower bound not stated", both
    the printed range. ``period_days`` [d] is the time a count covers, ``card_per_m2`` [1/m2] the
    density of cards that the number assumes.
    """

    table = "thresholds"
    key = ("threshold_key",)
    threshold_key: str
    crop_key: CropKey
    phase_key: PhaseKey
    crop_age_weeks_low: float | None
    crop_age_weeks_high: float | None
    condition: Literal[
        "none",
        "no_tospovirus",
        "tospovirus_present",
        "biocontrol_programme",
        "mixed_stages",
        "mostly_young_nymphs",
    ]
    taxon_key: TaxonKey
    stage_key: StageKey | None
    method_key: MethodKey
    sampling_unit_key: SamplingUnitKey
    quantity_kind: QuantityKindKey
    sense: Literal["ceiling", "floor", "ratio", "any_find", "reference"]
    low: float | None
    high: float | None
    low_inclusive: bool | None
    period_days: float | None
    card_per_m2: float | None
    kind: Literal[
        "action",
        "economic_injury_level",
        "economic_threshold",
        "biocontrol_start",
        "biocontrol_limit",
        "inspect",
        "ship",
        "risk_level",
        "reference",
        "release_ratio",
        "sampling_rule",
    ]
    enemy_key: TaxonKey | None
    ship_as_default: bool
    note: str | None

    @property
    def acts_at(self) -> float:
        """The density that counts as 1 [unit of ``quantity_kind``]: the low end of a range, or
        the high end where the source states only "below".
        """
        bound = self.low if self.low is not None else self.high
        if bound is None:
            raise ValueError(f"threshold {self.threshold_key} has neither a low nor a high end")
        return bound

    @property
    def record_kind(self) -> str | None:
        """Kind of threshold in the records; None: a fact that nothing is compared with."""
        return RECORD_KINDS.get(self.kind)

    @property
    def makes_strip(self) -> bool:
        """Whether a density is shown as times this threshold."""
        return self.record_kind in STRIP_KINDS

    def printed(self, locale: str = "en") -> str:
        """The number as the source prints it: "18 to 30", "below 10", "more than 20", "15"."""
        low, high = (None if end is None else f"{end:g}" for end in (self.low, self.high))
        if low is None:
            return say("reference.threshold.below", locale, high=high)
        if high is not None and high != low:
            return say("reference.threshold.range", locale, low=low, high=high)
        if self.low_inclusive is False:
            return say("reference.threshold.more_than", locale, low=low)
        return low
