"""What is wrong with a vehicle: faults drawn by the circuit's own list, not by the engine's rows.

So the vehicles of a seed stay the same when the engine changes what it believes in.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from benchmarks.diagnosis.truth import TrueVehicle
from benchmarks.diagnosis.world import Extra, World
from loomwright.circuit import faults_of, parse_fault
from loomwright.circuit.model import Circuit, Fault

__all__ = ["complains", "drawn_fault", "matters", "parasite", "severe"]

_LEAST_OHM, _ALWAYS_OHM, _MOST_OHM = 0.05, 50.0, 1e5
_TIMES_LOAD = 10.0  # an added resistance beyond ten times what it works against is an open one
_LEAST_A = 1e-6
_MATTERS_SHARE = 0.05  # of the system's volts, lost at a load that should work


def drawn_fault(circuit: Circuit, rng: np.random.Generator, prior_error: float = 1.0) -> Fault:
    """Draw a fault by prior (each wrong by the factor either way), and how bad it is."""
    faults = faults_of(circuit)
    luck = prior_error ** rng.choice([-1.0, 1.0], len(faults))
    weights = np.array([fault.prior for fault in faults]) * luck
    return severe(circuit, faults[int(rng.choice(len(faults), p=weights / weights.sum()))], rng)


def severe(circuit: Circuit, fault: Fault, rng: np.random.Generator) -> Fault:
    """Return a high resistance at a severity even in log ohm; any other fault as it is.

    From 0.05 ohm to 50, or to ten times what the element works against (system volts over its
    largest current when healthy), at most 100 kohm.
    """
    if fault.kind != "high-resistance" or fault.ohms is not None:
        return fault
    healthy = TrueVehicle(circuit, World(20.0, 1.0, 0.0, 0.6, 0.5, 7))
    amps = max(healthy.most_amps(fault.element), _LEAST_A)
    most = min(max(_ALWAYS_OHM, _TIMES_LOAD * circuit.system_v / amps), _MOST_OHM)
    ohms = math.exp(rng.uniform(math.log(_LEAST_OHM), math.log(most)))
    return parse_fault(circuit, f"{fault.id}:{ohms:.6g}")


def complains(vehicle: TrueVehicle) -> bool:
    """Return whether a function does not do what the file says it should."""
    return any(("off", "on")[vehicle.doing(state, name) == 2] != wanted
               or vehicle.doing(state, name) == 1
               for state, wants in vehicle.circuit.should.items()
               for name, wanted in wants.items())


def matters(circuit: Circuit, world: World, faults: Sequence[Fault]) -> bool:
    """Return whether each of several faults alone takes a function, or 5 % of a load's volts."""
    healthy = TrueVehicle(circuit, world)
    return all(_matters(healthy, TrueVehicle(circuit, world, (fault,))) for fault in faults)


def _matters(healthy: TrueVehicle, vehicle: TrueVehicle) -> bool:
    lost = max((healthy.load_volts(state, name) - vehicle.load_volts(state, name)
                for state, wants in healthy.circuit.should.items()
                for name, wanted in wants.items() if wanted == "on"), default=0.0)
    return complains(vehicle) or lost > _MATTERS_SHARE * healthy.circuit.system_v


def parasite(circuit: Circuit, rng: np.random.Generator) -> Extra:
    """Return a load nobody drew, 1 to 20 ohm: from a point to the body, or between two parts.

    Not across one part: that would read as a switch stuck closed or a relay welded.
    """
    points = [point for point in circuit.points() if not point.startswith("BAT")]
    at, other = (str(one) for one in rng.choice(points, 2, replace=False))
    same = at.split(".", 1)[0] == other.split(".", 1)[0]
    to = "body" if same or rng.random() < 0.6 else other
    return Extra(at, to, float(np.exp(rng.uniform(np.log(1.0), np.log(20.0)))))
