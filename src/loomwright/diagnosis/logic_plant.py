"""Logic and arithmetic networks as a plant: published diagnosis examples on the same engine.

Weak fault model: a faulty component may give any output. What a node shows follows by propagating
the observed values through the healthy components; a node that stays open is spread evenly over
the values it could have (de Kleer and Williams, Artificial Intelligence 32, 1987).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from loomwright.diagnosis.hitting_sets import minimal_sets
from loomwright.plant import Check, Hypothesis, Prediction, Repair

__all__ = ["Component", "LogicPlant"]

Values = dict[str, int]
Names = frozenset[str]


@dataclass(frozen=True, slots=True)
class Component:
    """One component: its output node is `function` of its input nodes; `prior` of being faulty."""

    id: str
    inputs: tuple[str, ...]
    output: str
    function: Callable[..., int]
    prior: float = 0.01


class _ContradictionError(Exception):
    """Two different values for one node."""


@dataclass(frozen=True, eq=False)
class LogicPlant:
    """A network of components over the values 0 .. `size` - 1.

    `given` are the observed nodes; fault rows are the sets of at most `most_faults` components
    whose misbehaviour is consistent with them, with prior odds against no fault. `probes` are the
    nodes on offer. Predictions of open nodes are independent of each other: after a reading, work
    on with `observing` where that matters.
    """

    components: tuple[Component, ...]
    given: Mapping[str, int]
    probes: tuple[str, ...]
    size: int = 2
    most_faults: int = 99

    def observing(self, **values: int) -> LogicPlant:
        """Return the plant with more nodes observed."""
        left = tuple(node for node in self.probes if node not in values)
        return replace(self, given={**self.given, **values}, probes=left)

    def candidates(self) -> list[Names]:
        """Return every set of faulty components consistent with the observed nodes."""
        return [faulty for faulty in self._subsets() if self.consistent(faulty)]

    def minimal_diagnoses(self) -> list[Names]:
        """Return the minimal sets of faulty components consistent with the observed nodes."""
        return minimal_sets(self.candidates())

    def minimal_conflicts(self) -> list[Names]:
        """Return the minimal sets of components that cannot all be healthy."""
        everything = frozenset(component.id for component in self.components)
        return minimal_sets(
            healthy for healthy in self._subsets() if not self.consistent(everything - healthy)
        )

    def _subsets(self) -> list[Names]:
        names = [component.id for component in self.components]
        most = min(self.most_faults, len(names))
        return [
            frozenset(chosen)
            for count in range(most + 1)
            for chosen in itertools.combinations(names, count)
        ]

    def consistent(self, faulty: Names) -> bool:
        """Return whether some values of all nodes agree with the observed ones."""
        healthy = [component for component in self.components if component.id not in faulty]
        return self._satisfiable(healthy, dict(self.given))

    def _satisfiable(self, healthy: Sequence[Component], known: Values) -> bool:
        try:
            self._propagate(healthy, known)
        except _ContradictionError:
            return False
        unset = [n for c in healthy for n in (*c.inputs, c.output) if n not in known]
        if not unset:
            return True
        return any(
            self._satisfiable(healthy, known | {unset[0]: value}) for value in range(self.size)
        )

    def _propagate(self, healthy: Sequence[Component], known: Values) -> None:
        """Add to `known` every value that follows; raise when two values contradict."""
        changed = True
        while changed:
            changed = any(self._step(component, known) for component in healthy)

    def _step(self, component: Component, known: Values) -> bool:
        """Use one component forwards or backwards; return whether a node became known."""
        unset = [node for node in component.inputs if node not in known]
        if not unset:
            value = component.function(*(known[node] for node in component.inputs))
            return self._set(known, component.output, value)
        if len(unset) > 1 or component.output not in known:
            return False
        fits = [
            value
            for value in range(self.size)
            if component.function(*((known | {unset[0]: value})[n] for n in component.inputs))
            == known[component.output]
        ]
        if not fits:
            raise _ContradictionError
        return len(fits) == 1 and self._set(known, unset[0], fits[0])

    def _set(self, known: Values, node: str, value: int) -> bool:
        if not 0 <= value < self.size or known.get(node, value) != value:
            raise _ContradictionError
        new = node not in known
        known[node] = value
        return new

    def faults(self) -> Sequence[Hypothesis]:
        """Return every consistent set of faulty components as one row."""
        odds = {c.id: c.prior / (1.0 - c.prior) for c in self.components}
        return tuple(
            Hypothesis(name, name, "misbehaves", f"mend {name}", math.prod(odds[c] for c in faulty))
            for faulty in self.candidates()
            if faulty
            for name in ("+".join(sorted(faulty)),)
        )

    def repairs(self) -> Mapping[str, Repair]:
        """Return one repair per fault row, ten minutes per component."""
        return {
            row.repair: Repair(row.repair, row.repair, 10.0 * len(row.element.split("+")))
            for row in self.faults()
        }

    def checks(self) -> Sequence[Check]:
        """Return one check of a minute per probe."""
        levels = tuple(str(value) for value in range(self.size))
        return tuple(Check(node, "", "value", node, levels=levels) for node in self.probes)

    def places(self) -> Mapping[str, float]:
        """Return no places: every node is at hand."""
        return {}

    def setups(self) -> Mapping[str, float]:
        """Return no set-ups."""
        return {}

    def predict(self, hypotheses: Sequence[Hypothesis], checks: Sequence[Check]) -> Prediction:
        """Return level chances: certain where the value follows, even where the node stays open."""
        known = [self._known(row.element) for row in hypotheses]
        shape = (1, len(hypotheses), len(checks))
        levels = {}
        for column, check in enumerate(checks):
            chances = np.full((1, len(hypotheses), self.size), 1.0 / self.size)
            for number, values in enumerate(known):
                if values is None:
                    chances[0, number] = np.nan
                elif check.at in values:
                    chances[0, number] = np.eye(self.size)[values[check.at]]
            levels[column] = chances
        blank = np.full(shape, np.nan)
        return Prediction(blank, blank, np.ones(1), levels)

    def _known(self, element: str) -> Values | None:
        """Return the values that follow under a set of faults, None when it is inconsistent."""
        faulty = set(element.split("+")) if element else set()
        healthy = [component for component in self.components if component.id not in faulty]
        known = dict(self.given)
        try:
            self._propagate(healthy, known)
        except _ContradictionError:
            return None
        return known

    def margin_checks(self, repair: str) -> Sequence[Check]:
        """Return every probe: a network is proved by all its nodes."""
        return self.checks()
