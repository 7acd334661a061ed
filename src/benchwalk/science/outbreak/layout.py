"""Where plants stand, and how near they are to each other and to the doors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from benchwalk.science.arguments import FloatArray

IntArray = NDArray[np.int64]
# neighbours farther than this many mean distances get exp(-5) = 0.7 % of the nearest's share
_REACHES = 5.0


@dataclass(frozen=True)
class Bench:
    """A rectangle on the plan to scale, planted on a grid. [m]"""

    x: float  #: of the corner nearest to the origin
    y: float
    width: float  #: along x
    length: float  #: along y
    spacing: float  #: between plants, both ways


@dataclass(frozen=True, eq=False)
class Layout:
    """Plants of one air space: coordinates, and the bench each stands on."""

    x: FloatArray  #: shape (plants,) [m]
    y: FloatArray  #: shape (plants,) [m]
    bench: IntArray  #: shape (plants,), index of the bench

    @property
    def plants(self) -> int:
        return len(self.x)

    def on(self, bench: int) -> IntArray:
        """The plants of a bench."""
        return np.flatnonzero(self.bench == bench)

    def nearness(self, x: float, y: float, mean_distance: float) -> FloatArray:
        """Share of what comes in at a point (a door, a vent) that lands on each plant.

        Falls as exp(-distance / mean_distance); sums to 1. [m]
        """
        away = np.hypot(self.x - x, self.y - y)
        # from the nearest plant, so that a door far from all plants does not underflow
        near = np.exp(-(away - away.min()) / mean_distance)
        return np.asarray(near / near.sum())


def planted(benches: Sequence[Bench]) -> Layout:
    """Plants on every bench, in rows and columns, half a spacing from the edges.

    Raises
    ------
    ValueError : no bench, or a bench that is narrower than one plant's spacing.
    """
    if not benches:
        raise ValueError("got no bench; expected at least one; lay out benches first")
    grids = [_grid(bench) for bench in benches]
    index = np.repeat(np.arange(len(benches)), [len(x) for x, _ in grids])
    return Layout(
        np.concatenate([x for x, _ in grids]), np.concatenate([y for _, y in grids]), index
    )


def _grid(bench: Bench) -> tuple[FloatArray, FloatArray]:
    across = int(bench.width / bench.spacing + 1e-9)
    along = int(bench.length / bench.spacing + 1e-9)
    if across < 1 or along < 1:
        raise ValueError(
            f"got a bench of {bench.width:g} by {bench.length:g} m, {bench.spacing:g} m from plant "
            "to plant; expected room for one plant; correct the spacing"
        )
    x, y = np.meshgrid(np.arange(across) + 0.5, np.arange(along) + 0.5)
    return bench.x + bench.spacing * x.ravel(), bench.y + bench.spacing * y.ravel()


@dataclass(frozen=True, eq=False)
class Neighbours:
    """Every plant's neighbours, one plant after the other; a plant alone is its own neighbour."""

    plant: IntArray  #: the neighbours of plant 0, then of plant 1 ...
    first: IntArray  #: where the neighbours of each plant begin; shape (plants + 1,)
    distance: FloatArray  #: [m]

    def shares(self, mean_distance: float) -> FloatArray:
        """Each neighbour's share of what leaves a plant: exp(-distance / mean), summing to 1."""
        near = np.exp(-self.distance / mean_distance)
        sums = np.add.reduceat(near, self.first[:-1])
        return np.asarray(near / np.repeat(sums, np.diff(self.first)))


def neighbours(layout: Layout, mean_distance: float) -> Neighbours:
    """The plants within five mean distances of each plant, benches and aisles as they lie. [m]"""
    tree = cKDTree(np.column_stack([layout.x, layout.y]))
    near = tree.sparse_distance_matrix(tree, _REACHES * mean_distance, output_type="ndarray")
    near = near[near["i"] != near["j"]]
    alone = np.setdiff1d(np.arange(layout.plants), near["i"])
    plant = np.concatenate([near["i"], alone])
    order = np.argsort(plant, kind="stable")
    first = np.searchsorted(plant[order], np.arange(layout.plants + 1))
    return Neighbours(
        np.concatenate([near["j"], alone])[order].astype(np.int64),
        first.astype(np.int64),
        np.concatenate([near["v"], np.zeros(len(alone))])[order],
    )
