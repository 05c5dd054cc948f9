"""What instruments and people see of a solved circuit: meter loading, floating points, loads."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.elimination import connected
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.laws import LOAD_LEVELS, MAGNETO_FED_A, motor_speed
from loomwright.circuit.network import Network
from loomwright.circuit.operate import Operating
from loomwright.circuit.values import Values

__all__ = ["CONDUCTS_S", "METER_OHM", "OPEN_LINE_OHM", "load_levels", "reach"]

METER_OHM = 1e7  # input resistance of a digital meter on volts; common practice
OPEN_LINE_OHM = 1e7  # an ohmmeter shows OL from here; assumed
CONDUCTS_S = 1e-9  # less is no connection

Bools = NDArray[np.bool_]


def reach(network: Network, slope_s: NDArray[np.float64]) -> Bools:
    """Return which nodes have a conducting path to the reference (n_nodes, B)."""
    joined, plan = slope_s > CONDUCTS_S, network.plan
    entries = np.zeros((len(plan.entry_of), joined.shape[1]), np.bool_)
    grounded = np.zeros((plan.size, joined.shape[1]), np.bool_)
    for target, branch in network.layers:
        entries[target] |= joined[branch]
    for target, branch in network.ground_layers:
        grounded[target] |= joined[branch]
    reached = connected(plan, entries, grounded)[plan.row_of]
    reached[plan.row_of < 0] = True
    return reached


def load_levels(values: Values, found: Operating, flags: Mapping[str, Mapping[str, Bools]]
                ) -> dict[str, NDArray[np.int64]]:
    """Return what each load and relay does: 0 off, 1 dim or slow, 2 on, in every variant."""
    network = values.network
    levels = {name: np.where(on, 2, 0) for name, on in flags["relay"].items()}
    for name, part in network.circuit.parts.items():
        if not KINDS[part.kind].load:
            continue
        row = network.where[name]
        branch = network.branches[row]
        volts = found.volts[network.start[row]] - found.volts[network.end[row]]
        flows = found.slope_s[row] > CONDUCTS_S
        share = np.abs(volts) / branch.rated_v
        if branch.law == "motor":
            rated = max(branch.rated_v - branch.rated_a * branch.ohm, 0.05 * branch.rated_v)
            share = motor_speed(volts, found.amps[row], values.ohm[row], rated)
        elif branch.rated_a:  # by its current: a lamp of light diodes
            share = np.abs(found.amps[row]) / branch.rated_a
        dim, on = (level * values.trips.get(f"load:{name}", 1.0)
                   for level in LOAD_LEVELS[part.kind])
        level = np.where(share >= on, 2, np.where(share >= dim, 1, 0)) * flows
        if part.kind == "solenoid":
            # a coil with bridged turns takes amps but makes no pull
            level = level * (values.ohm[row] > 0.3 * branch.ohm)
        if part.kind == "magneto":
            # fed by a battery it gives no spark, and is soon ruined
            level = level * (found.amps[row] > -MAGNETO_FED_A)
        if name in values.idle:
            level = level * ~values.idle[name]
        levels[name] = level.astype(np.int64)
    return levels
