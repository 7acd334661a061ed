"""What a plan does, by whichever way it was computed."""

from __future__ import annotations

from dataclasses import dataclass

from benchwalk.science.arguments import FloatArray, TextArray


@dataclass(frozen=True, eq=False)
class Characteristic:
    """What a plan does with a unit of a given true mean; arrays of one shape."""

    mean: FloatArray  #: true mean [individuals/sample unit], or share infested
    under: FloatArray  #: chance of "under"
    over: FloatArray  #: chance of "over"
    open: FloatArray  #: chance of neither when the table ends
    units: FloatArray  #: expected number of sample units
    reason: TextArray
