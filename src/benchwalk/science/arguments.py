"""Checks of what a calculation is given: the impossible is refused, the absent passes as NaN."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
TextArray = NDArray[np.str_]


def as_floats(**named: ArrayLike) -> list[FloatArray]:
    """Broadcast the arguments against each other as float64, so that integers and floats agree.

    Raises
    ------
    ValueError : shapes that do not broadcast, with the name and shape of each argument.
    """
    arrays = {name: np.asarray(value, dtype=np.float64) for name, value in named.items()}
    try:
        return list(np.broadcast_arrays(*arrays.values()))
    except ValueError as mismatch:
        shapes = ", ".join(f"{name} {array.shape}" for name, array in arrays.items())
        raise ValueError(
            f"got arguments of shapes {shapes}; expected shapes that broadcast; "
            "give one value, or one for each row"
        ) from mismatch


def require_probability(name: str, values: FloatArray, *, one_allowed: bool = False) -> None:
    """Refuse values outside (0, 1), or outside (0, 1] where 1 makes sense; NaN is refused too."""
    allowed = (values > 0) & ((values <= 1) if one_allowed else (values < 1))
    _refuse(name, values, allowed, "a share in (0, 1]" if one_allowed else "a share in (0, 1)")


def require_not_negative(name: str, values: FloatArray) -> None:
    """Refuse negative and infinite values; NaN means absent and passes."""
    allowed = ((values >= 0) & np.isfinite(values)) | np.isnan(values)
    _refuse(name, values, allowed, "zero or more, or NaN where absent")


def require_positive(name: str, values: FloatArray) -> None:
    """Refuse zero and less; infinity passes, and NaN means absent and passes."""
    _refuse(name, values, (values > 0) | np.isnan(values), "more than zero, or NaN where absent")


def require_at_most(name: str, values: FloatArray, limit_name: str, limits: FloatArray) -> None:
    """Refuse a part that is larger than its whole; NaN on either side passes."""
    above = values > limits
    if above.any():
        first = (values[above][0], limits[above][0])
        raise ValueError(
            f"got {name} {first[0]:g} of {limit_name} {first[1]:g}; expected {name} of at most "
            f"{limit_name}; check whether the two were exchanged"
        )


def _refuse(name: str, values: FloatArray, allowed: BoolArray, expected: str) -> None:
    if not allowed.all():
        given = values[~allowed][0]
        raise ValueError(f"got {name} {given:g}; expected {expected}; correct {name} and try again")


def first_reason(shape: tuple[int, ...], *cases: tuple[str, BoolArray]) -> TextArray:
    """A reason code for each row: the first case that applies, "" where none does."""
    conditions = [np.broadcast_to(where, shape) for _, where in cases]
    return np.asarray(np.select(conditions, [code for code, _ in cases], ""), dtype="<U20")
