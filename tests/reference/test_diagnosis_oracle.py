"""The belief against an independent exact engine for Bayesian networks, on small networks.

pyAgrum (LGPL-3.0 or MIT) does variable elimination on the same joint distribution: the belief must
be the same to 1e-9, in any order of the readings. It is in the test lock. Brute-force Bayes in
tests/diagnosis/test_belief.py covers the same ground.
"""

from __future__ import annotations

import warnings

import numpy as np
import pytest

from loomwright.diagnosis import Evidence, Settings, build_table
from loomwright.diagnosis.belief import believe
from loomwright.diagnosis.matrix_plant import MatrixPlant
from loomwright.plant import Check, Hypothesis, Repair

FAULTS, CHECKS, NUISANCE, LEVELS = 9, 7, 3, 3
NAMES = tuple("abc"[:LEVELS])


def level_plant(seed: int) -> MatrixPlant:
    """Return faults whose checks show levels by chance, under a shared nuisance."""
    rng = np.random.default_rng(seed)
    rows = tuple(
        Hypothesis(f"open:W{n}", f"W{n}", "open", f"mend W{n}", float(rng.uniform(0.01, 0.1)))
        for n in range(FAULTS)
    )
    repairs = {row.repair: Repair(row.repair, row.repair, 10.0) for row in rows}
    checks = tuple(Check(f"C{n}", "on", "lit", f"P{n}", levels=NAMES) for n in range(CHECKS))
    chances = {
        n: rng.dirichlet(np.full(LEVELS, 0.5), size=(NUISANCE, FAULTS + 1)) for n in range(CHECKS)
    }
    blank = np.full((NUISANCE, FAULTS + 1, CHECKS), np.nan)
    weights = rng.dirichlet(np.full(NUISANCE, 3.0))
    return MatrixPlant(rows, repairs, checks, blank, blank, weights, chances)


def oracle(plant: MatrixPlant, settings: Settings, seen: dict[str, str]) -> np.ndarray:
    """Return the posterior of every row by pyAgrum; fault and nuisance are parents of checks."""
    with warnings.catch_warnings():
        # its C extension deprecates itself on import; as an error that crashes the interpreter
        warnings.simplefilter("ignore")
        import pyagrum as agrum
    odds = np.array([row.prior for row in plant.faults()])
    share = settings.complaint_no_fault
    prior = np.concatenate([[share], (1.0 - share) * odds / odds.sum()])
    prior = np.append((1.0 - settings.unmodelled_prior) * prior, settings.unmodelled_prior)
    net = agrum.BayesNet("bench")
    net.add(agrum.LabelizedVariable("H", "fault", len(prior)))
    net.add(agrum.LabelizedVariable("N", "nuisance", NUISANCE))
    net.cpt("H")[:] = prior
    net.cpt("N")[:] = plant.weights
    even = np.full((NUISANCE, 1, LEVELS), 1.0 / LEVELS)
    for column, check in enumerate(plant.checks()):
        net.add(agrum.LabelizedVariable(check.id, check.id, list(NAMES)))
        net.addArc("H", check.id)
        net.addArc("N", check.id)
        chances = np.concatenate([plant.chances[column], even], axis=1)
        wrong = settings.wrong_reading
        for nuisance in range(NUISANCE):
            for row in range(len(prior)):
                mixed = (1.0 - wrong) * chances[nuisance, row] + wrong / LEVELS
                net.cpt(check.id)[{"H": row, "N": nuisance}] = mixed.tolist()
    engine = agrum.VariableElimination(net)
    engine.setEvidence(seen)
    engine.addTarget("H")
    engine.makeInference()
    return np.asarray(engine.posterior("H").toarray())


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("count", [0, 1, 4, CHECKS])
def test_belief_equals_exact_inference(seed, count):
    plant, settings = level_plant(seed), Settings()
    rng = np.random.default_rng([seed, count])
    seen = {check.id: str(rng.choice(NAMES)) for check in plant.checks()[:count]}
    named = {check.id: check for check in plant.checks()}
    evidence = [Evidence(named[name], level) for name, level in seen.items()]
    belief = believe(build_table(plant, settings), evidence)
    exact = oracle(plant, settings, seen)
    # both are exact: only rounding of sums of 10 rows x 3 nuisances is left
    assert belief.rows == pytest.approx(exact, abs=1e-9)
    assert float(belief.rows.sum()) == pytest.approx(1.0, abs=1e-12)
    order = [evidence[int(n)] for n in rng.permutation(len(evidence))]
    turned = believe(build_table(plant, settings), order)
    assert turned.rows == pytest.approx(exact, abs=1e-9)
