"""Alternating volts of a stator with its plug pulled, by engine speed, in every variant."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.batch import Variant
from loomwright.circuit.branches import Override
from loomwright.circuit.faults import overrides_of
from loomwright.circuit.kinds.stator import PHASES, ac_volts, phase_ac_v
from loomwright.circuit.model import Circuit, Part
from loomwright.plant import Check

__all__ = ["AC_PAIRS", "ac_readings", "turns_in"]

AC_PAIRS = (("A", "B"), ("B", "C"), ("C", "A"), ("A", "F"))
# What a magnet and a winding give against the file's volts, by draw: where the file gives them,
# and where they are only ours; assumed.
_GIVEN, _ASSUMED = (0.94, 0.98, 1.02, 1.06), (0.85, 0.95, 1.05, 1.15)


def turns_in(circuit: Circuit, part: Part, state: str) -> bool:
    """Return whether a stator turns in a state."""
    return phase_ac_v(part, circuit.states[state]) > 0


def ac_readings(circuit: Circuit, variants: Sequence[Variant], check: Check
                ) -> NDArray[np.float64]:
    """Return what each variant shows between two pins of a stator (n_variants,) [V effective]."""
    part = circuit.parts[check.at.split(".", 1)[0]]
    at, to = check.at.rsplit(".", 1)[1], check.to.rsplit(".", 1)[1]
    phase_v = phase_ac_v(part, circuit.states[check.state])
    own = [one for fault in circuit.faults for one in overrides_of(circuit, fault)]
    tolerance = _ASSUMED if "ac_v" in part.assumed else _GIVEN
    known: dict[tuple[Override, ...], float] = {}
    found = np.empty(len(variants))
    for number, variant in enumerate(variants):
        acts = tuple(one for one in (*own, *(
            act for fault in variant.faults for act in overrides_of(circuit, fault)))
            if one.target.startswith(f"{part.id}."))
        if acts not in known:
            known[acts] = _reading(part, phase_v, acts, (at, to))
        draw = variant.balanced[0] if variant.balanced is not None else None
        found[number] = known[acts] * (1.0 if draw is None else tolerance[draw % 4])
    return found


def _reading(part: Part, phase_v: float, acts: Sequence[Override], pins: tuple[str, str]) -> float:
    """Return the volts between two pins of one stator: turns that are bridged give none."""
    volts = dict.fromkeys(PHASES, phase_v)
    earthed = False
    for act in acts:
        phase = act.target.rsplit(".", 1)[1]
        if phase == "leak":
            earthed = True
        elif act.act == "open":
            volts.pop(phase, None)
        elif phase in volts and act.act == "scale":
            volts[phase] *= act.value
    return ac_volts(volts, *pins, earthed)
