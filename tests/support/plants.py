"""Made-up plants for tests of the diagnosis engine."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from loomwright.diagnosis.matrix_plant import MatrixPlant
from loomwright.plant import Check, Hypothesis, Prediction, Repair


def voltage_check(name: str, **changes: object) -> Check:
    """Return a voltage check at a point of that name."""
    fields: dict[str, object] = {"unit": "V", "minutes": 1.0}
    return Check(name, "on", "voltage", name, **(fields | changes))  # type: ignore[arg-type]


def series_plant(
    count: int = 4, supply: Sequence[float] = (24.0,), price: float = 0.0, costly: bool = False
) -> MatrixPlant:
    """Return a chain of `count` wires in series: a break at wire k leaves points k.. at 0 V.

    One point after each wire; `supply` volts is the nuisance grid, evenly weighted.
    """
    faults = tuple(
        Hypothesis(f"open:W{k}", f"W{k}", "open", f"mend W{k}", 0.001) for k in range(1, count + 1)
    )
    repairs = {
        row.repair: Repair(row.repair, row.repair, 10.0, price=price, costly=costly)
        for row in faults
    }
    live = np.array([[k > point for point in range(1, count + 1)] for k in range(1, count + 1)])
    shape = np.vstack([np.ones((1, count)), live.astype(float)])
    mean = np.array(supply)[:, None, None] * shape[None]
    weights = np.full(len(supply), 1.0 / len(supply))
    checks = tuple(voltage_check(f"P{point}") for point in range(1, count + 1))
    return MatrixPlant(faults, repairs, checks, mean, np.full_like(mean, 0.05), weights)


def random_plant(seed: int, faults: int = 12, checks: int = 8, nuisance: int = 3) -> MatrixPlant:
    """Return a plant whose faults change some of the readings at random (seeded)."""
    rng = np.random.default_rng(seed)
    rows = tuple(
        Hypothesis(f"open:W{n}", f"W{n}", "open", f"mend W{n}", float(rng.uniform(0.5, 2.0)))
        for n in range(faults)
    )
    repairs = {row.repair: Repair(row.repair, row.repair, 10.0) for row in rows}
    healthy = rng.choice([0.0, 12.0, 24.0], checks)
    change = (rng.random((faults + 1, checks)) < 0.4) * rng.uniform(-8.0, 8.0, (faults + 1, checks))
    change[0] = 0.0
    scale = np.linspace(0.95, 1.05, nuisance) if nuisance > 1 else np.ones(1)
    mean = healthy[None, None] * scale[:, None, None] + change[None]
    spread = rng.uniform(0.05, 0.3, mean.shape)
    weights = rng.dirichlet(np.ones(nuisance) * 4.0)
    listed = tuple(voltage_check(f"P{n}") for n in range(checks))
    return MatrixPlant(rows, repairs, listed, mean, spread, weights)


class AdditivePlant(MatrixPlant):
    """A plant whose faults' changes add up, so that any of its rows can be joined."""

    predicts_several = True

    def predict(self, hypotheses: Sequence[Hypothesis], checks: Sequence[Check]) -> Prediction:
        """Return the healthy readings plus the change that each fault of a row makes."""
        order = {row: n for n, row in enumerate(self.fault_rows, start=1)}
        columns = [self.check_list.index(check) for check in checks]
        change = self.mean - self.mean[:, :1]
        rows = [
            self.mean[:, 0] + sum(change[:, order[one]] for one in (row.parts or (row,))
                                  if one in order)
            for row in hypotheses
        ]
        mean = np.stack(rows, axis=1)[:, :, columns]
        return Prediction(mean, np.full_like(mean, 0.05), self.weights)


def additive_plant(count: int = 6, moves: int = 2) -> AdditivePlant:
    """Return faults W1.. of which each lowers `moves` of as many points by 3 V, turned round."""
    rows = tuple(
        Hypothesis(f"open:W{k}", f"W{k}", "open", f"mend W{k}", 0.01) for k in range(1, count + 1)
    )
    repairs = {row.repair: Repair(row.repair, row.repair, 10.0) for row in rows}
    mean = np.full((1, count + 1, count), 12.0)
    for k in range(count):
        for step in range(moves):
            mean[0, k + 1, (k + step) % count] -= 3.0
    checks = tuple(voltage_check(f"P{point}") for point in range(1, count + 1))
    return AdditivePlant(rows, repairs, checks, mean, np.full_like(mean, 0.05), np.ones(1))
