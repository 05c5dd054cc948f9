"""What an unknown current between two points moves: the circuit's small-signal resistances.

By the substitution theorem any two-terminal thing that nobody drew acts on the rest as a current
between its two points, another one in each state. Around the solved healthy state volts and amps
answer a small current in proportion; that answer comes from the factored network, one right side
for each point.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.batch import BatchResult, Variant, solve_batch
from loomwright.circuit.elimination import solve_factored
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.model import Circuit
from loomwright.circuit.plant.names import battery_negative
from loomwright.circuit.plant.unlisted import nets
from loomwright.plant import Check, FreeSources

__all__ = ["Responses"]

Array = NDArray[np.float64]

_LIMIT_A = 20.0  # where no fuse says how much may flow; assumed
_BODY_SHARE = 3.0  # to the body or the battery against between two others, as for joints; assumed
_MOST_PAIRS = 40  # of nets; beyond, only those to the body and to the battery


class Responses:
    """How every reading of one circuit moves for an ampere between two of its points.

    Validity: as long as nothing switches by it; lamps and motors by their slope in the healthy
    state.
    """

    def __init__(self, circuit: Circuit) -> None:
        """Keep the circuit; a state is solved when a check asks for it."""
        self._circuit = circuit
        self._ends, self._shares = _places(circuit)
        self._states: dict[str, tuple[BatchResult, Array]] = {}
        self._columns: dict[Check, Array] = {}

    def sources(self, checks: Sequence[Check]) -> FreeSources:
        """Return the places, and how each check moves for 1 A that leaves at the first of its ends.

        Unit V/A for volts, A/A for amps; NaN for what is seen or heard and for ohms.
        """
        for check in checks:
            if check not in self._columns:
                self._columns[check] = self._column(check)
        response = np.stack([self._columns[check] for check in checks], axis=1) \
            if checks else np.empty((len(self._ends), 0))
        return FreeSources(self._ends, self._shares, response, _limit_a(self._circuit))

    def _column(self, check: Check) -> Array:
        blank = np.full(len(self._ends), np.nan)
        if check.levels or check.quantity not in {"voltage", "current"}:
            return blank
        result, volts = self._state(check.state)
        network = result.network
        if check.quantity == "voltage":
            at, to = (network.index.get(name) for name in (check.at, check.to))
            moved = None if at is None else volts[at] - (0.0 if to is None else volts[to])
        else:
            branch = network.where.get(check.at)
            moved = None if branch is None else result.slope_s[branch, 0] * (
                volts[network.start[branch]] - volts[network.end[branch]])
        return blank if moved is None else self._by_place(result, moved)

    def _by_place(self, result: BatchResult, moved: Array) -> Array:
        """Return what pairs of points move, from what a current out of each point moves."""
        index = result.points
        return np.array([moved[index[a]] - moved[index[b]] for a, b in self._ends])

    def _state(self, name: str) -> tuple[BatchResult, Array]:
        """Return a healthy state, and every node's volts for 1 A out of each point."""
        if name not in self._states:
            result = solve_batch(self._circuit, name, (Variant(),))
            row_of = result.network.plan.row_of
            points = np.array(list(result.points.values()), dtype=np.intp)
            injected = np.zeros((result.network.plan.size, int(points.max()) + 1))
            inside = points[row_of[points] >= 0]
            injected[row_of[inside], inside] = -1.0
            solved = solve_factored(result.factor, injected)
            volts = solved[row_of]
            volts[row_of < 0] = 0.0
            self._states[name] = (result, volts)
        return self._states[name]


def _limit_a(circuit: Circuit) -> float:
    """Return the rating of the largest fuse [A]: more does not flow for long."""
    ratings = [part.number("rating_a") for part in circuit.parts.values()
               if KINDS[part.kind].opens_above is not None and "rating_a" in part.params]
    return max(ratings, default=_LIMIT_A)


def _places(circuit: Circuit) -> tuple[tuple[tuple[str, str], ...], tuple[float, ...]]:
    """Return pairs of points and their shares, which sum to one.

    Every point with the battery's negative post (all earths are alike but for milliohms) and with
    its positive one; of two other nets one pair. Straight across the battery moves nothing.
    """
    negative = battery_negative(circuit)
    posts = (negative, f"{negative.split('.', 1)[0]}.+")
    pairs = list(itertools.combinations(nets(circuit), 2))
    found: list[tuple[str, str]] = []
    shares: list[float] = []
    for pair in pairs:
        ends = [(post, other) for post in posts
                for one, other in (pair, pair[::-1]) if post in one]
        if len(ends) == 1:
            post, other = ends[0]
            found += [(point, post) for point in other]
            shares += [_BODY_SHARE / len(other)] * len(other)
        elif not ends and len(pairs) <= _MOST_PAIRS:
            found.append((pair[0][0], pair[1][0]))
            shares.append(1.0)
    total = sum(shares)
    return tuple(found), tuple(share / total for share in shares)
