"""Resistances seen at points of a factored batch, against a dense solve."""

import numpy as np

from loomwright.circuit.elimination import factorise, make_plan
from loomwright.circuit.impedance import impedances

EDGES = [(0, 1), (1, 2), (2, 3), (3, 0), (1, 3), (3, 4), (4, 5)]


def dense_inverse(conductance_s: dict[tuple[int, int], float]) -> np.ndarray:
    matrix = np.zeros((6, 6))
    for (a, b), value in conductance_s.items():
        matrix[a, a] += value
        matrix[b, b] += value
        matrix[a, b] -= value
        matrix[b, a] -= value
    return np.linalg.inv(matrix[1:, 1:])  # node 0 is the reference


def test_every_point_and_joined_pair_equals_the_dense_inverse() -> None:
    rng = np.random.default_rng(3)
    plan = make_plan(6, EDGES, 0)
    values = rng.uniform(0.01, 10.0, (len(EDGES), 4))
    entries, ground = np.zeros((len(plan.entry_of), 4)), np.zeros((plan.size, 4))
    for (a, b), row in zip(EDGES, values, strict=True):
        rows = sorted((int(plan.row_of[a]), int(plan.row_of[b])))
        if rows[0] < 0:
            ground[rows[1]] += row
        else:
            entries[plan.entry_of[rows[0], rows[1]]] += row
    seen = impedances(factorise(plan, entries, ground))
    for column in range(4):
        exact = dense_inverse(dict(zip(EDGES, values[:, column], strict=True)))
        for a, b in [*EDGES, (0, 2), (0, 4), (0, 5)]:
            unit = np.zeros(6)
            unit[a] += 1.0
            unit[b] -= 1.0
            found = seen.between(a, b)
            assert found is not None
            # round-off of two direct solves of a 5 x 5 system
            assert np.isclose(found[column], unit[1:] @ exact @ unit[1:], rtol=1e-9)


def test_a_pair_outside_the_pattern_is_left_to_a_solve() -> None:
    plan = make_plan(6, EDGES, 0)
    ones = factorise(plan, np.ones((len(plan.entry_of), 1)), np.ones((plan.size, 1)))
    pairs = {(a, b) for a in range(1, 6) for b in range(a + 1, 6)}
    joined = {(a, b) for a, b in pairs if impedances(ones).between(a, b) is not None}
    assert {edge for edge in map(tuple, map(sorted, EDGES)) if 0 not in edge} <= joined
    assert joined != pairs
