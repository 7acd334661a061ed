"""A week of fifteen units in five houses, invented and built by hand: every state, every absence.

Figures are not reckoned here from counts; they only have to be told apart on a page.
"""

from __future__ import annotations

import datetime as dt
import math
from collections import Counter
from dataclasses import replace

from benchwalk.summarise import (
    Apart,
    Change,
    InForce,
    Key,
    NotLooked,
    Share,
    Summary,
    UnitSummary,
    Unlike,
)
from benchwalk.summarise.dispersion import Dispersion
from benchwalk.summarise.gathered import Gathered
from benchwalk.summarise.week import Clean, Density
from tests.report.by_hand import DAY, line, place, series, threshold, unit, vocabulary

SINCE = dt.date(2026, 5, 1)
BEFORE = dt.date(2026, 4, 30)
NAN, INF = float("nan"), math.inf

LONG_HOUSE = "Invernadero de propagación número 3, junto al camino de los calentadores"
LONG_UNIT = "Mesa larga de nochebuenas bajo la ventila sur, segunda repisa"
HOSTILE_HOUSE = "<script>alert(1)</script>"
HOSTILE_UNIT = '=HYPERLINK("http://example.invalid","a")'


WFT_CARD = threshold(
    "western_flower_thrips",
    "adult",
    "yellow_card",
    "chrysanthemum",
    value=18.0,
    high=30.0,
    per="per_card_per_week",
    source="Rettke2009",
    status="seen",
)
WFT_VIOLET = threshold(
    "western_flower_thrips",
    "adult",
    "yellow_card",
    "african_violet",
    below=True,
    per="per_card_per_week",
    source="Rettke2009",
    status="memory",
)
MITE = threshold(
    "two_spotted_spider_mite",
    "motile",
    "leaf_count",
    "cucumber",
    rule="phase",
    phase="harvest",
    kind="economic",
    value=2.0,
    per="per_leaf",
    age_from_weeks=5,
)
SCALE = threshold(
    "greenhouse_whitefly", "nymph", "plant_count", "poinsettia", value=0.5, age_until_weeks=8
)
ANY_FIND = threshold(
    "silverleaf_whitefly",
    "adult",
    "yellow_card",
    "poinsettia",
    rule="regulated",
    sense="any_find",
    value=None,
    per=None,
)


def over_card() -> UnitSummary:
    """Over a printed range, k assumed, a change, an enemy beside it, plants found apart."""
    here = place("Bench row 2")
    card = series(
        here,
        "western_flower_thrips",
        "adult",
        "yellow_card",
        units_sampled=2,
        effort=1.5,
        per="per_card_per_week",
        total=65,
    )
    thrips = line(
        card,
        "over",
        Density(43.2, 27.0, 66.6, ""),
        dispersion=Dispersion(1.5, 3, True),
        rule=InForce(WFT_CARD, "chrysanthemum"),
        times=(2.4, 1.5, 3.7),
        change=Change(BEFORE, 20.6, 2.1, 1.2, 3.8, ""),
    )
    enemy = line(
        series(here, "amblyseius_swirskii", "motile", "leaf_count", per="per_leaf", total=12),
        "enemy",
        Density(0.6, 0.3, 1.1, ""),
    )
    flagged = series(
        here,
        "western_flower_thrips",
        "larva",
        "tap",
        why="flagged",
        units_sampled=1,
        effort=1.0,
        per="per_shoot_tip",
        total=5,
    )
    return unit(here, "over", (thrips, enemy), apart=(Apart(flagged),))


def over_mites() -> UnitSummary:
    """Over, the interval beyond the axis; stage structure; a pest first found here."""
    here = place("Bay 4", "Cucumber span")
    mites = series(
        here,
        "two_spotted_spider_mite",
        "motile",
        "leaf_count",
        units_sampled=20,
        effort=60.0,
        per="per_leaf",
        total=696,
        infested=17,
    )
    motile = line(
        mites,
        "over",
        Density(11.6, 6.2, 22.4, ""),
        infested_percent=(85.0, 66.0, 95.0),
        rule=InForce(MITE, "cucumber"),
        times=(5.8, 3.1, 11.2),
        change=Change(BEFORE, 4.2, 2.8, 1.1, 7.0, ""),
    )
    eggs = line(
        mites._replace(key=replace(mites.key, stage="egg"), total=1204, infested=18),
        "no_threshold",
        Density(20.1, 11.0, 38.0, ""),
        infested_percent=(90.0, 72.0, 98.0),
        first="unit",
        unlike=(Unlike(MITE, "cucumber", "stage"),),
        change=None,
    )
    stages = (("egg", 1204), ("motile", 696))
    share = Share("two_spotted_spider_mite", "leaf_count", 1900, stages)
    return unit(here, "over", (motile, eggs), crops=("cucumber",), shares=(share,))


def over_any_find() -> UnitSummary:
    """A regulated pest: one find is enough; the longest names; the day the card hung unsaid."""
    here = place(LONG_UNIT, LONG_HOUSE)
    found = series(
        here,
        "silverleaf_whitefly",
        "adult",
        "yellow_card",
        units_sampled=1,
        effort=1.0,
        per="per_card",
        total=1,
        why_assumed=True,
        lacks="exposure_not_said",
    )
    whitefly = line(
        found,
        "over",
        Density(1.0, 0.05, 4.7, ""),
        rule=InForce(ANY_FIND, "poinsettia"),
        first="operation",
    )
    return unit(
        here, "over", (whitefly,), crops=("poinsettia", "chrysanthemum"), plants_looked=None
    )


def may_be_over() -> UnitSummary:
    """Counted to a limit: a lower bound under the threshold."""
    here = place("Bench row 5")
    capped = series(
        here, "greenhouse_whitefly", "nymph", "plant_count", total=8, at_least=True, infested=3
    )
    scales = line(
        capped,
        "at_least",
        Density(0.4, 0.15, INF, "capped"),
        infested_percent=(15.0, 5.2, 32.0),
        rule=InForce(SCALE, "poinsettia"),
        times=(0.8, 0.3, INF),
        change=Change(BEFORE, 0.2, NAN, NAN, NAN, "capped"),
    )
    return unit(here, "at_least", (scales,), crops=("poinsettia",))


def seen_not_counted() -> UnitSummary:
    here = place("Bench row 6")
    seen = series(here, "melon_aphid", "wingless", "plant_count", total=None)
    return unit(here, "present", (line(seen, "present", Density(NAN, NAN, NAN, "not_counted")),))


def no_density() -> UnitSummary:
    """Counted, over an effort nobody wrote down; and a card whose count fell."""
    here = place("Bench row 7")
    unsaid = series(
        here,
        "shore_fly",
        "adult",
        "yellow_card",
        total=12,
        lacks="card_fell_below",
        per="per_card_per_week",
        units_sampled=1,
        effort=1.0,
    )
    counted = series(
        here,
        "fungus_gnat",
        "larva",
        "hand_search",
        total=7,
        units_sampled=None,
        effort=None,
        lacks="effort_not_said",
    )
    lines = (
        line(counted, "no_density", Density(NAN, NAN, NAN, "effort_not_said")),
        line(unsaid, "no_density", Density(NAN, NAN, NAN, "card_fell_below")),
    )
    return unit(here, "no_density", lines, plants_looked=None, plants_there=None)


def no_threshold() -> UnitSummary:
    """Each way in which a threshold does not fit."""
    here = place("Bay 1", "Cucumber span")
    found = series(here, "western_flower_thrips", "larva", "tap", per="per_shoot_tip", total=31)
    whys = ("taxon", "stage", "method", "quantity", "age", "phase")
    unlike = tuple(Unlike(threshold(*WHICH[why], **LIMITS[why]), "cucumber", why) for why in whys)
    thrips = line(
        found,
        "no_threshold",
        Density(1.55, 0.9, 2.6, ""),
        unlike=unlike,
        change=Change(BEFORE, 0.0, NAN, 0.4, INF, "none_before"),
    )
    return unit(here, "no_threshold", (thrips,), crops=("cucumber",))


WHICH = {
    "taxon": ("onion_thrips", "larva", "tap", "cucumber"),
    "stage": ("western_flower_thrips", "adult", "tap", "cucumber"),
    "method": ("western_flower_thrips", "larva", "flower_count", "cucumber"),
    "quantity": ("western_flower_thrips", "larva", "tap", "cucumber"),
    "age": ("western_flower_thrips", "larva", "tap", "cucumber"),
    "phase": ("western_flower_thrips", "larva", "tap", "cucumber"),
}


PER_TIP = {"value": 3.0, "per": "per_shoot_tip"}
LIMITS: dict[str, dict[str, object]] = {
    "taxon": PER_TIP,
    "stage": PER_TIP,
    "method": {"value": 3.0, "high": 7.5, "per": "per_flower"},
    "quantity": {"value": 3.0, "per": "per_plant"},
    "age": PER_TIP | {"age_from_weeks": 2, "age_until_weeks": 5},
    "phase": PER_TIP | {"rule": "phase", "phase": "harvest"},
}


def just_under() -> UnitSummary:
    """So little under 1 that two digits would say 1.0; too few plants; a source from memory."""
    here = place("Bench row 3")
    card = series(
        here,
        "western_flower_thrips",
        "adult",
        "yellow_card",
        units_sampled=3,
        effort=3.0,
        per="per_card_per_week",
        total=30,
    )
    thrips = line(
        card,
        "under",
        Density(9.96, 6.3, 15.6, ""),
        rule=InForce(WFT_VIOLET, "african_violet"),
        times=(0.996, 0.63, 1.56),
        change=Change(BEFORE, 10.0, 0.996, 0.6, 1.7, ""),
    )
    missed = Key(here.id, "melon_aphid", "winged", "yellow_card")
    return unit(
        here,
        "under",
        (thrips,),
        crops=("african_violet",),
        plants_there=4500,
        few=True,
        not_counted=(NotLooked(here, "not_counted", BEFORE, missed),),
    )


def mean_only() -> UnitSummary:
    """A sheet that gives only a mean; an unnamed plant part; gone to none since."""
    here = place("Bench row 4")
    mean = series(
        here,
        "greenhouse_whitefly",
        "nymph",
        "part_unsaid",
        total=None,
        mean_only=0.02,
        why_assumed=True,
    )
    gone = series(here, "melon_aphid", "wingless", "plant_count", total=0, found=False, infested=0)
    lines = (
        line(
            mean,
            "under",
            Density(0.02, NAN, NAN, "mean_only"),
            rule=InForce(SCALE, "poinsettia"),
            times=(0.04, NAN, NAN),
        ),
        line(
            gone,
            "none",
            Density(0.0, 0.0, 0.16, ""),
            infested_percent=(0.0, 0.0, 10.0),
            change=Change(BEFORE, 0.35, 0.0, 0.0, 0.6, ""),
        ),
    )
    return unit(here, "under", lines, crops=("poinsettia",))


def looked_none() -> UnitSummary:
    """Zero with its upper bound, and what a clean walk proves."""
    here = place("Mist bed 1", "Propagation")
    none = series(here, "greenhouse_whitefly", "nymph", "plant_count", total=0, found=False)
    scales = line(
        none,
        "none",
        Density(0.0, 0.0, 0.16, ""),
        rule=InForce(SCALE, "poinsettia"),
        times=(0.0, 0.0, 0.32),
        change=Change(BEFORE, 0.0, NAN, NAN, NAN, "none_counted"),
    )
    clean = Clean(20, 600, 13.91, 82, 13.67)
    return unit(here, "none", (scales,), crops=("poinsettia",), plants_there=600, clean=clean)


def looked_none_of_many() -> UnitSummary:
    """Looked, none, where the number of plants is not known and no crop is recorded."""
    here = place(HOSTILE_UNIT, HOSTILE_HOUSE)
    none = series(here, "shore_fly", "adult", "hand_search", total=0, found=False)
    clean = Clean(20, None, 13.91, None, 13.91)
    lines = (line(none, "none", Density(0.0, 0.0, 0.16, "")),)
    return unit(here, "none", lines, crops=(), plants_there=None, clean=clean)


NOT_LOOKED = (
    NotLooked(place("Bench row 9"), "time", BEFORE),
    NotLooked(place("Bench row 10"), "no_word", dt.date(2026, 4, 23)),
    NotLooked(place("Hardening bay", "Propagation"), "no_walk", None),
    NotLooked(place("Bay 2", "Cucumber span"), "the key to the gate was lost", BEFORE),
)

UNITS = (
    over_mites,
    over_card,
    over_any_find,
    may_be_over,
    seen_not_counted,
    no_density,
    no_threshold,
    just_under,
    mean_only,
    looked_none,
    looked_none_of_many,
)


def a_summary(**known: object) -> Summary:
    """The week, with whatever of what was gathered is to be different."""
    words = vocabulary()
    row: dict[str, object] = {
        "operation": "Quillmere Nursery",
        "zone": "America/New_York",
        "practice": False,
        "since": SINCE,
        "day": DAY,
        "rounds": (),
        "efforts": (),
        "catches": (),
        "called": (),
        "plantings": (),
        "thresholds": (),
        "first_found": {},
        "taxa": words["Taxon"],
        "stages": words["Stage"],
        "methods": words["Method"],
        "crops": words["Crop"],
    }
    units = tuple(make() for make in UNITS)
    places = tuple(u.unit for u in units) + tuple(miss.unit for miss in NOT_LOOKED)
    gathered = Gathered(units=places, **(row | known))
    counts = Counter(u.state for u in units) + Counter(not_looked=len(NOT_LOOKED))
    return Summary(gathered, units, NOT_LOOKED, dict(counts))
