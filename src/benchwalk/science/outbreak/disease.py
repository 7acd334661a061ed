"""A disease that goes from plant to plant by contact: neighbours first, hands and tools beyond."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import sparse

from benchwalk.science.arguments import FloatArray
from benchwalk.science.outbreak.layout import IntArray, Layout, neighbours

_HEALTHY = -1


class ContactDisease:
    """Healthy, latent and infectious plants; an infected plant stays infected until it is removed.

    A healthy plant is infected in a day with chance 1 - exp(-rate x contact), its contact being
    the sum of exp(-distance / reach) over infectious plants ([Kermack1927]_ in space, one day at a
    time); ``handled`` adds the same chance for every infectious plant of the air space.

    Parameters
    ----------
    layout : where the plants stand.
    rng : the only source of chance.
    replicates : independent outbreaks.
    rate : infections a day from one infectious plant at no distance. [1/day]
    reach : mean distance of contact. [m]
    latent_days : from infection until a plant infects others.
    handled : infections a day of any plant from any infectious one. [1/day]
    """

    def __init__(
        self,
        layout: Layout,
        rng: np.random.Generator,
        *,
        rate: float,
        reach: float,
        latent_days: int,
        replicates: int = 1,
        handled: float = 0.0,
    ) -> None:
        if not (rate >= 0 and handled >= 0 and reach > 0 and latent_days >= 0):
            raise ValueError(
                f"got rate {rate}, handled {handled}, reach {reach}, latent_days {latent_days}; "
                "expected none negative and a reach above 0"
            )
        self.layout, self.rng = layout, rng
        self.rate, self.handled, self.latent_days = rate, handled, latent_days
        near = neighbours(layout, reach)
        weight = np.where(near.distance > 0, np.exp(-near.distance / reach), 0.0)
        square = (layout.plants, layout.plants)
        self.contact = sparse.csr_matrix((weight, near.plant, near.first), shape=square)
        self.days: NDArray[np.int32] = np.full((replicates, layout.plants), _HEALTHY, np.int32)

    @property
    def infected(self) -> NDArray[np.bool_]:
        """Latent and infectious plants; shape (replicates, plants)."""
        return self.days > _HEALTHY

    @property
    def infectious(self) -> NDArray[np.bool_]:
        return self.days >= self.latent_days

    def infect(self, plants: ArrayLike) -> None:
        """Plants are infected from elsewhere, in every replicate; the infected stay so."""
        these = np.asarray(plants, dtype=np.int64)
        self.days[:, these] = np.maximum(self.days[:, these], 0)

    def remove(self, plants: ArrayLike) -> None:
        """Healthy plants take the places of these."""
        self.days[:, np.asarray(plants, dtype=np.int64)] = _HEALTHY

    def swap(self, these: ArrayLike, those: ArrayLike) -> None:
        """Plants change places and take their infection with them."""
        one, other = (np.asarray(p, dtype=np.int64) for p in (these, those))
        both, crossed = np.concatenate([one, other]), np.concatenate([other, one])
        self.days[:, both] = self.days[:, crossed]

    def step(self) -> None:
        """One day."""
        chance = self._chance()
        exposed = np.nonzero((chance > 0) & ~self.infected)
        struck = self.rng.random(len(exposed[0])) < chance[exposed]
        self.days[self.infected] += 1
        self.days[exposed[0][struck], exposed[1][struck]] = 0

    def _chance(self) -> FloatArray:
        sick = self.infectious.astype(np.float64)
        near = np.asarray((self.contact @ sick.T).T)
        return np.asarray(
            -np.expm1(-self.rate * near - self.handled * sick.sum(axis=1, keepdims=True))
        )


def infected_on(bench: IntArray, infected: NDArray[np.bool_], benches: int) -> IntArray:
    """Infected plants on each bench; shape (replicates, benches)."""
    return np.stack([np.bincount(bench[row], minlength=benches) for row in infected])
