"""The loaded checks that prove a repair: volt drops on every series path through the mended thing.

A path is found by physics, not by drawing: a drop belongs to a repair when a fault that the
repair mends would move it. So a bad earth that two loads share brings in both.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.model import Circuit
from loomwright.circuit.plant.checks import CheckMaker
from loomwright.circuit.plant.names import (
    battery_negative,
    controller_items,
    loads,
    series_pairs,
)
from loomwright.circuit.plant.predictions import Sample
from loomwright.circuit.rules import is_yes
from loomwright.plant import Check

__all__ = ["MOST_LOOKS", "MOST_OWN", "complaint_checks", "consumer_drops", "element_drops",
           "few_looks", "few_paths", "moved_rows", "symptom_factor", "under_load"]

MOST_OWN = 2  # drops across the mended element: its contacts
MOST_LOOKS = 4  # functions looked at in a proof
_MOST_PER_SIDE = 2  # loads whose feed side, and whose earth side, is measured

_SIGMAS = 3.0
_LEVEL_SHIFT = 0.3  # share of a level that must move
_SILENT = 0.05  # weight of a fault that changes no function: why did the vehicle come in? (assumed)


def complaint_checks(circuit: Circuit, maker: CheckMaker) -> tuple[Check, ...]:
    """Return a look at every function the file says what it should do."""
    seen = {part.id: quantity for part, quantity in loads(circuit)}
    return tuple(
        maker.make(state, seen[element], element)
        for state, wanted in circuit.should.items()
        for element in wanted
        if element in seen
    )


def consumer_drops(circuit: Circuit, maker: CheckMaker, state: str) -> Iterator[Check]:
    """Give feed-side and earth-side drops of every consumer in a state.

    Feed side: battery positive post to the pin current enters by. Earth side: the pin it leaves
    by to the battery negative post. A controller counts by its supply, its earth and every input.
    """
    negative = battery_negative(circuit)
    positive = f"{negative.split('.', 1)[0]}.+"
    for at, sides in _consumer_points(circuit):
        if "feed" in sides and at != positive:
            yield maker.make(state, "voltage", positive, at)
        if "earth" in sides and at != negative:
            yield maker.make(state, "voltage", at, negative)


def _consumer_points(circuit: Circuit) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Give pins of consumers with the sides of the circuit they may stand on."""
    for part, _ in loads(circuit):
        pins = ("86", "85") if part.kind == "relay" else part.pins[:2]
        for pin in pins:
            yield f"{part.id}.{pin}", ("feed", "earth")
    for part in circuit.parts.values():
        if part.kind == "controller":
            yield f"{part.id}.{part.params['supply']}", ("feed",)
            yield f"{part.id}.{part.params['earth']}", ("earth",)
    pins_of = {f"{part.id}.{name}": part for part, _, name in controller_items(circuit)}
    for name, part in pins_of.items():
        for item in (*_items(part.params.get("inputs")), *_items(part.params.get("outputs"))):
            if f"{part.id}.{item.id}" == name:
                yield f"{part.id}.{item.pin}", ("feed", "earth")


def under_load(circuit: Circuit, paths: Sequence[Check], working: frozenset[tuple[str, str]]
               ) -> list[Check]:
    """Return the drops to a load in a state where it works: `working` gives (state, load)."""
    return [one for one in paths if (one.state, _consumer(circuit, one)) in working]


def _consumer(circuit: Circuit, drop: Check) -> str:
    point = drop.at if drop.to == battery_negative(circuit) else drop.to
    return point.split(".", 1)[0]


def few_paths(circuit: Circuit, ranked: Sequence[Check]) -> list[Check]:
    """Return the drops to measure, of two loads a side; `ranked` has the most moved first."""
    negative = battery_negative(circuit)
    earth = {_consumer(circuit, one): one for one in reversed(ranked) if one.to == negative}
    feed = {_consumer(circuit, one): one for one in reversed(ranked) if one.to != negative}
    kept = [one for side in (feed, earth) for one in [*side.values()][::-1][:_MOST_PER_SIDE]]
    return [one for one in ranked if one in kept]


def few_looks(circuit: Circuit, looks: Sequence[Check]) -> list[Check]:
    """Return the functions to look at: each load where it should work first, then the others."""
    def wanted(look: Check) -> bool:
        return is_yes(str(circuit.should.get(look.state, {}).get(look.at, "")))

    first = list({look.at: look for look in reversed(looks) if wanted(look)}.values())[::-1]
    rest = [look for look in looks if look not in first]
    return [*first, *rest][:max(MOST_LOOKS, len(first))]


def _items(value: object) -> tuple:  # type: ignore[type-arg]
    return value if isinstance(value, tuple) else ()


def element_drops(circuit: Circuit, maker: CheckMaker, state: str, element: str
                  ) -> Iterator[Check]:
    """Give the drop across an element itself, contact by contact."""
    owner = element.split(".", 1)[0]
    for name, at, to in series_pairs(circuit):
        if name == element or (name == owner and element in circuit.parts):
            yield maker.make(state, "voltage", at, to)


def moved_rows(check: Check, sample: Sample, rows: Sequence[int]) -> bool:
    """Return whether any of some rows moves a reading away from the no-fault row (row 0)."""
    if sample.levels is not None:
        levels = sample.levels
        shift = 0.5 * np.abs(levels[list(rows)] - levels[0]).sum(axis=1)
        return bool((shift > _LEVEL_SHIFT).any())
    mean, spread = sample.mean, sample.spread
    noise = np.sqrt(spread[0] ** 2 + check.resolution**2 + (check.accuracy * mean[0]) ** 2)
    return bool((np.abs(mean[list(rows)] - mean[0]) > _SIGMAS * noise).any())


def symptom_factor(samples: Sequence[Sample]) -> NDArray[np.float64]:
    """Return, for every row, what its prior counts on a job: 0.05 silent to 1 noticed (assumed).

    A vehicle comes in because something does not work. By the largest share by which a fault
    changes what a load does or a controller lists, in any state.
    """
    most = np.zeros(len(samples[0].mean) if samples else 1)
    for sample in samples:
        assert sample.levels is not None
        levels = sample.levels
        most = np.maximum(most, 0.5 * np.abs(levels - levels[0]).sum(axis=1))
    found: NDArray[np.float64] = _SILENT + (1.0 - _SILENT) * np.minimum(most / 0.5, 1.0)
    return found
