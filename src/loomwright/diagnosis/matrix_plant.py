"""A plant given as a plain matrix: what every row shows at every check.

For fault-signature tables from books and for made-up tables in tests and benchmarks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from loomwright.errors import UnknownNameError
from loomwright.plant import NO_FAULT, Check, Hypothesis, Prediction, Repair

__all__ = ["MatrixPlant"]

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class MatrixPlant:
    """A plant whose predictions are listed; the first row of every array is the healthy plant.

    `mean`, `spread`: (n_nuisance, 1 + n_faults, n_checks). `chances` maps the column of a category
    check to level probabilities (n_nuisance, 1 + n_faults, n_levels). `weights` (n_nuisance,).
    """

    fault_rows: tuple[Hypothesis, ...]
    repair_classes: Mapping[str, Repair]
    check_list: tuple[Check, ...]
    mean: Array
    spread: Array
    weights: Array
    chances: Mapping[int, Array] = field(default_factory=dict)
    place_minutes: Mapping[str, float] = field(default_factory=dict)
    setup_minutes: Mapping[str, float] = field(default_factory=dict)
    proof_checks: Mapping[str, tuple[Check, ...]] = field(default_factory=dict)

    @classmethod
    def from_outcomes(
        cls,
        outcomes: Mapping[str, Sequence[str]],
        priors: Mapping[str, float],
        minutes: Sequence[float],
    ) -> MatrixPlant:
        """Return a plant of certain outcomes: `outcomes[state][test]`, the first state is healthy.

        Every other state is a fault with a repair of its own; priors are odds against healthy.
        """
        names = list(outcomes)
        matrix = [list(outcomes[name]) for name in names]
        checks, chances = [], {}
        for column, cost in enumerate(minutes):
            levels = tuple(sorted({row[column] for row in matrix}))
            name = f"t{column + 1}"
            checks.append(Check(name, "", "test", name, minutes=cost, levels=levels))
            seen = [[float(row[column] == level) for level in levels] for row in matrix]
            chances[column] = np.array(seen)[None]
        blank = np.full((1, len(names), len(minutes)), np.nan)
        rows = tuple(
            Hypothesis(name, name, "fault", f"mend {name}", priors[name] / priors[names[0]])
            for name in names[1:]
        )
        repairs = {row.repair: Repair(row.repair, row.repair, 1.0) for row in rows}
        return cls(rows, repairs, tuple(checks), blank, blank, np.ones(1), chances)

    def faults(self) -> Sequence[Hypothesis]:
        """Return every fault row."""
        return self.fault_rows

    def repairs(self) -> Mapping[str, Repair]:
        """Return the repair classes by id."""
        return self.repair_classes

    def checks(self) -> Sequence[Check]:
        """Return every check."""
        return self.check_list

    def places(self) -> Mapping[str, float]:
        """Return minutes to reach each place."""
        return self.place_minutes

    def setups(self) -> Mapping[str, float]:
        """Return minutes to bring about each set-up."""
        return self.setup_minutes

    def predict(self, hypotheses: Sequence[Hypothesis], checks: Sequence[Check]) -> Prediction:
        """Return the listed predictions; UnknownNameError for a check that is not listed."""
        order = {NO_FAULT: 0} | {row: n for n, row in enumerate(self.fault_rows, start=1)}
        rows = [order[row] for row in hypotheses]
        column_of = {check.id: column for column, check in enumerate(self.check_list)}
        for check in checks:
            if check.id not in column_of:
                raise UnknownNameError("check", check.id, column_of)
        columns = [column_of[check.id] for check in checks]
        levels = {
            number: self.chances[column][:, rows, :]
            for number, column in enumerate(columns)
            if column in self.chances
        }
        grid = np.ix_(range(len(self.weights)), rows, columns)
        return Prediction(self.mean[grid], self.spread[grid], self.weights, levels)

    def margin_checks(self, repair: str) -> Sequence[Check]:
        """Return the listed proof checks of a repair."""
        return self.proof_checks.get(repair, ())
