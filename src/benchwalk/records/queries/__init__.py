"""Named questions to the records. Only current rows live in these tables; none filters by rev.

Each returns frozen rows; sums are made in SQL, so that a season comes back as hundreds of rows
and not as every plant that was looked at.
"""

from benchwalk.records.queries.cards import Caught, catches
from benchwalk.records.queries.happened import (
    Degrees,
    Happened,
    Marking,
    Put,
    Sighted,
    happened,
)
from benchwalk.records.queries.rounds import Effort, Round, efforts, first_found, rounds
from benchwalk.records.queries.standing import (
    Ground,
    PhaseOf,
    Place,
    Standing,
    begun,
    ground,
    latest,
    phases,
    plantings,
    standing_on,
    thresholds,
    units,
)
from benchwalk.records.queries.touched import Touched, touched
from benchwalk.records.queries.walked import Called, called, last_walk_on
from benchwalk.records.queries.words import Vocabulary, vocabulary

__all__ = [
    "Called",
    "Caught",
    "Degrees",
    "Effort",
    "Ground",
    "Happened",
    "Marking",
    "PhaseOf",
    "Place",
    "Put",
    "Round",
    "Sighted",
    "Standing",
    "Touched",
    "Vocabulary",
    "begun",
    "called",
    "catches",
    "efforts",
    "first_found",
    "ground",
    "happened",
    "last_walk_on",
    "latest",
    "phases",
    "plantings",
    "rounds",
    "standing_on",
    "thresholds",
    "touched",
    "units",
    "vocabulary",
]
