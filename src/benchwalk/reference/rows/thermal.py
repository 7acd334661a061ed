"""How pests grow with temperature: published constants, rates and durations."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from benchwalk.reference.reading import Cited, SourceKey, To, Within
from benchwalk.reference.rows.animals import StageKey, TaxonKey
from benchwalk.reference.rows.crops import CropKey


@dataclass(frozen=True, kw_only=True)
class Development(Cited):
    """Base temperature and thermal constant of one study.

    ``base_c``, ``upper_c`` [deg C], ``constant_dd`` [degree-days C], from the beginning of
    ``first_stage`` to the end of ``last_stage``. ``taxon_key`` is what the numbers stand for,
    ``measured_taxon_key`` what was measured. Never pair the base of one row with the constant of
    another. ``via_source_key``: the compilation in which the value was read.
    """

    table = "development"
    key = ("record_key",)
    record_key: str
    taxon_key: TaxonKey
    measured_taxon_key: TaxonKey
    measure: Literal["development", "adult_life", "preoviposition", "adult_flight"]
    first_stage: StageKey
    last_stage: StageKey
    sex: Literal["female", "male"] | None
    base_c: Annotated[float, Within(-5, 20)] | None
    constant_dd: Annotated[float, Within(5, 2000)] | None
    upper_c: Annotated[float, Within(15, 45)] | None
    host_crop_key: CropKey | None
    use: Literal["default", "alternative", "suspect"]
    use_reason: (
        Literal[
            "outlier",
            "wrong_organism_possible",
            "derived_share",
            "threshold_only",
            "inferred_stage",
            "two_temperatures",
            "adult_lifespan",
            "proxy_species",
            "incomplete",
            "extra_species",
        ]
        | None
    )
    via_source_key: SourceKey | None
    note: str | None


@dataclass(frozen=True, kw_only=True)
class Growth(Cited):
    """Intrinsic rate of increase ``r_per_day`` [1/d] at one temperature [deg C]."""

    table = "growth"
    key = ("record_key",)
    record_key: str
    taxon_key: TaxonKey
    measured_taxon_key: TaxonKey
    host_crop_key: CropKey | None
    cultivar: str | None
    temp_c: Annotated[float, Within(0, 45)] | None
    r_per_day: Annotated[float, Within(-0.1, 0.6)]
    use: Literal["usable", "no_temperature", "excluded"]
    use_reason: Literal["proxy_species", "implausible"] | None
    note: str | None


@dataclass(frozen=True, kw_only=True)
class Nonlinear(Cited):
    """One parameter of a published curve of development rate [1/d], and where it holds [deg C]."""

    table = "nonlinear"
    key = ("record_key", "parameter")
    record_key: str
    taxon_key: TaxonKey
    measured_taxon_key: TaxonKey
    model: Literal["lactin2", "taylor_gauss", "briere1", "logan10", "logan6"]
    parameter: str
    value: float
    valid_low_c: float | None
    valid_high_c: float | None
    use: Literal["alternative", "suspect"]
    via_source_key: SourceKey | None
    note: str | None


@dataclass(frozen=True, kw_only=True)
class NonlinearCheck(Cited):
    """The rate [1/d] that a curve must give at a temperature [deg C]."""

    table = "nonlinear_checks"
    key = ("record_key", "temp_c")
    record_key: Annotated[str, To("nonlinear")]
    temp_c: float
    rate_per_day: float


@dataclass(frozen=True, kw_only=True)
class TemperatureLimit(Cited):
    """A limit of temperature [deg C] of a taxon; ``high_c`` None: from ``low_c`` on."""

    table = "temperature_limits"
    key = ("taxon_key", "limit_kind")
    taxon_key: TaxonKey
    limit_kind: str
    low_c: float
    high_c: float | None
    note: str | None


@dataclass(frozen=True, kw_only=True)
class ObservedDuration(Cited):
    """A measured duration [d] at one temperature [deg C]."""

    table = "observed_durations"
    key = (
        "taxon_key",
        "measure",
        "temp_c",
        "host_crop_key",
        "source_key",
        "low_days",
    )
    taxon_key: TaxonKey
    measure: Literal["egg_to_adult", "generation", "adult_life", "development"]
    temp_c: float | None
    low_days: float | None
    high_days: float | None
    host_crop_key: CropKey | None
    note: str | None
