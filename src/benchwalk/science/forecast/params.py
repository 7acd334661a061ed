"""The numbers a forecast starts from, each with where it came from."""

from __future__ import annotations

from dataclasses import dataclass, field

SIMULATION = "simulation, engine start values"
ASSUMED = "assumed, no source"


@dataclass(frozen=True)
class TreatmentClass:
    """How one kind of treatment acts: a step of log density that takes its time.

    Attributes
    ----------
    lag : days before the first effect. [d]
    action : days over which the kill is done, in a straight line. [d]
    log_kill : what is expected of one treatment, as a fall of the natural log of density.
    log_kill_sd : how far single treatments lie from it.
    source : where the numbers came from.
    """

    lag: float
    action: float
    log_kill: float
    log_kill_sd: float = 0.8
    source: str = SIMULATION


CLASSES = {
    "contact": TreatmentClass(0.0, 2.0, 1.2),
    "systemic": TreatmentClass(1.0, 7.0, 1.4),
    "growth_regulator": TreatmentClass(3.0, 14.0, 1.2, source=f"{SIMULATION}; kill as contact"),
    "nematode": TreatmentClass(2.0, 10.0, 0.7),
    "curative_release": TreatmentClass(0.0, 14.0, 0.7, source=f"{SIMULATION}; days {ASSUMED}"),
}


@dataclass(frozen=True)
class Group:
    """How densities of one pest, stage and method move (or of all together).

    Attributes
    ----------
    a : realised share of the growth that temperature allows. [1]
    rho : how fast a deviation of growth fades. [1/d]
    sg : sd of the deviation of growth. [1/d]
    q : variance of log density that one day adds. [1/d]
    room : density at which crowding has stopped growth, in reference densities of the series
        (``Series.room`` says it of single series); infinite: never. [1]
    n : series it was fitted on, 0 for start values.
    """

    a: float = 0.30
    rho: float = 0.015
    sg: float = 0.022
    q: float = 0.010
    room: float = 400.0
    n: int = 0
    source: str = f"{SIMULATION}; all but rho from development seeds, forecast_measured.md"


@dataclass(frozen=True)
class ScoutOffset:
    """What a scout sees beside the reference scout, as a difference of log counts.

    ``known_from`` is the day from which it is known: counts before it are taken without. [d]
    """

    mean: float
    sd: float
    looks: int = 0
    known_from: float = float("-inf")


@dataclass(frozen=True)
class Params:
    """All a forecast knows beside the records.

    Attributes
    ----------
    common : motion of a series whose group is -1.
    groups : motion of groups 0, 1, ...
    classes : treatment classes by name.
    rebound_sd : sd of the change of growth a treatment causes (sE). [1/d]
    rebound_rate : how fast that change fades. [1/d]
    prior_variance : of log density at a first walk.
    jump_variance : added where the level may jump (card moved, method or crop phase changed).
    surprise : a standardised residual beyond it widens the state by ``surprise_variance``.
    programme_growth, programme_sd : what a biological programme does to growth. [1/d]
    programme_ramp : days until it does all of it. [d]
    scouts : offsets by scout number; a scout who is not in it has none.
    inflation : factor on the variance of every forecast (1: none).
    assumed_temperature : where no reading is. [°C]
    version : date of the fit, empty for start values.
    """

    common: Group = Group()
    groups: tuple[Group, ...] = ()
    classes: dict[str, TreatmentClass] = field(default_factory=lambda: dict(CLASSES))
    rebound_sd: float = 0.05
    rebound_rate: float = 0.1
    prior_variance: float = 2.5
    jump_variance: float = 0.5
    surprise: float = 3.0
    surprise_variance: float = 1.0
    programme_growth: float = 0.0
    programme_sd: float = 0.02
    programme_ramp: float = 14.0
    scouts: dict[int, ScoutOffset] = field(default_factory=dict)
    inflation: float = 1.0
    assumed_temperature: float = 20.0
    version: str = ""
    source: str = SIMULATION


DEFAULTS = Params()
"""Start values: learned from simulation, to be replaced as soon as there is data."""

PLANTS_K, PLANTS_SO2 = 0.6, 0.10
CARDS_K, CARDS_SO2 = 1.5, 0.3
