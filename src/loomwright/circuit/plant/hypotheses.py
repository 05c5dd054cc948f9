"""Fault rows of a circuit: every single fault, high resistances split into severity cells."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from loomwright.circuit.model import Circuit, Fault, Part
from loomwright.errors import UnknownNameError
from loomwright.plant import Hypothesis, Repair, SeverityCell

__all__ = ["CELLS", "CONTINUUM", "FLAT", "SHORTS", "FaultRow", "emf_shares", "fault_rows",
    "repairs_of", "severity_range", "span_ohm", "with_ohms"]

CONTINUUM = "high-resistance"
CELLS = 7  # log cells; 7 + open was right in 98.7 % of cases against 90.7 % with point values
FLAT = "flat"
SHORTS = frozenset({"short-to-earth", "short-to-supply"})
_SHORT_OHM = (0.015, 0.25)  # bare copper on clean metal, to a rusty edge; assumed
# Battery volts against the fault's own 0.6 of a full battery's: 0.4 to 0.8 of them; assumed.
_FLAT_SHARES = {"nearly empty": (0.67, 0.88), "flat": (0.88, 1.08), "half full": (1.08, 1.3)}
_LOW_OHM = 0.05
_HIGH_OHM = 50.0
_REACH_ABOVE = 10.0  # cells go to ten times the resistance the element works against
_HIGHEST_OHM = 1e5
_LARGEST_PRIOR_SUM = 0.2  # of all single faults together; above it doubles would matter
_COSTLY_PRICE = 150.0  # money; assumed
_MEND_MIN = 25.0  # find, cut, splice and seal a wire; assumed
_CLEAN_MIN = 12.0  # open, clean, retension and close a connector or earth; assumed
_VERIFY_MIN = 2.0  # assumed


@dataclass(frozen=True, slots=True)
class FaultRow:
    """A row of the belief with the fault to insert, and the faults sampled inside its cell.

    `emf`: the battery's volts in each sample, against the fault's own (none: as they are).
    """

    hypothesis: Hypothesis
    fault: Fault
    samples: tuple[Fault, ...]
    emf: tuple[float, ...] = ()


def severity_range(against_ohm: float) -> tuple[float, float]:
    """Return the range of added resistance [ohm] worth telling apart, 0.05 ohm at the low end.

    `against_ohm` is the resistance the element works against (volts over current when healthy):
    a wire that feeds 10 kohm hides kilohms, a wire that feeds a lamp hides none.
    """
    high = _REACH_ABOVE * against_ohm if math.isfinite(against_ohm) else _HIGHEST_OHM
    return _LOW_OHM, min(max(_HIGH_OHM, high), _HIGHEST_OHM)


def fault_rows(
    faults: Sequence[Fault], against_ohm: Mapping[str, float], draws: int
) -> tuple[FaultRow, ...]:
    """Return the rows of the belief, priors scaled so that all single faults sum to at most 0.2.

    Parameters
        faults: single faults with prior probability
        against_ohm: element -> resistance it works against [ohm] (infinite where no current flows)
        draws: faults sampled inside each severity cell
    """
    total = sum(max(fault.prior, 1e-6) for fault in faults)
    scale = min(1.0, _LARGEST_PRIOR_SUM / total) if total else 1.0
    rows: list[FaultRow] = []
    for fault in faults:
        prior = max(fault.prior, 1e-6) * scale
        if fault.kind == CONTINUUM:
            span = severity_range(against_ohm.get(fault.element, math.inf))
            rows += _cells(fault, prior, span, draws)
        elif fault.kind == FLAT:
            rows += _flats(fault, prior, draws)
        elif fault.kind in SHORTS:
            samples = tuple(with_ohms(fault, float(ohm))
                            for ohm in np.geomspace(*_SHORT_OHM, draws))
            rows.append(FaultRow(_row(fault, fault.id, prior, None), fault, samples))
        else:
            rows.append(FaultRow(_row(fault, fault.id, prior, None), fault, (fault,)))
    return tuple(rows)


def _row(fault: Fault, fault_id: str, prior: float, cell: SeverityCell | None) -> Hypothesis:
    return Hypothesis(fault_id, fault.element, fault.kind, fault.repair, prior, cell)


def _flats(fault: Fault, prior: float, draws: int) -> list[FaultRow]:
    """Return a flat battery as a few rows, from nearly empty to half full."""
    row = _row(fault, fault.id, prior / len(_FLAT_SHARES), None)
    return [
        replace(one, emf=emf_shares(one, draws))
        for one in (FaultRow(replace(row, variant=name), fault, (fault,)) for name in _FLAT_SHARES)
    ]


def emf_shares(row: FaultRow, draws: int) -> tuple[float, ...]:
    """Return a flat battery's volts, evenly over its row, against the fault's own; else none."""
    if row.hypothesis.kind != FLAT:
        return ()
    edges = np.linspace(*_FLAT_SHARES[row.hypothesis.variant], 2 * draws + 1)
    return tuple(float(share) for share in edges[1::2])


def _cells(fault: Fault, prior: float, span: tuple[float, float], draws: int) -> list[FaultRow]:
    """Split a continuum into log cells, each sampled evenly over its log range."""
    edges = np.geomspace(*span, CELLS + 1)
    fault_id = f"{fault.kind}:{fault.element}"
    rows = []
    for low, high in itertools.pairwise(edges):
        inside = low * (high / low) ** ((np.arange(draws) + 0.5) / draws)
        cell = SeverityCell(float(low), float(math.sqrt(low * high)), float(high))
        samples = tuple(with_ohms(fault, float(ohm)) for ohm in inside)
        middle = with_ohms(fault, cell.mid_ohm)
        rows.append(FaultRow(_row(fault, fault_id, prior / CELLS, cell), middle, samples))
    return rows


def with_ohms(fault: Fault, ohms: float) -> Fault:
    """Return the same fault at a resistance [ohm]."""
    return Fault(f"{fault.kind}:{fault.element}:{ohms:.6g}", fault.element, fault.kind, ohms,
                 fault.prior, fault.repair, fault.source)


def span_ohm(row: FaultRow) -> tuple[float, float] | None:
    """Return the range of resistance [ohm] that a row stands for; None where it has none."""
    cell = row.hypothesis.severity
    if cell is not None:
        return cell.low_ohm, cell.high_ohm
    return _SHORT_OHM if row.hypothesis.kind in SHORTS else None


def repairs_of(circuit: Circuit, faults: Sequence[Fault]) -> dict[str, Repair]:
    """Return every repair class with its words, minutes (reach, work, verify) and price."""
    found: dict[str, Repair] = {}
    for fault in faults:
        if fault.repair not in found:
            found[fault.repair] = _repair(circuit, fault.repair)
    return found


def _repair(circuit: Circuit, repair: str) -> Repair:
    verb, _, element = repair.partition(" ")
    wire = circuit.wires.get(element)
    if wire is not None:
        end = wire.end.point if wire.end is not None else "an unknown place"
        reach = _reach(circuit, wire.start.part, *([wire.end.part] if wire.end else []))
        text = f"Mend wire {element} ({wire.start.point} to {end})"
        return Repair(repair, text, reach + _MEND_MIN + _VERIFY_MIN)
    part = circuit.parts.get(element) or circuit.parts.get(element.split(".", 1)[0])
    if part is None:
        raise UnknownNameError("element", element, [*circuit.wires, *circuit.parts])
    reach = _reach(circuit, part.id)
    if verb == "clean":
        return Repair(repair, f"Clean and refit {_named(part, element)}",
                      reach + _CLEAN_MIN + _VERIFY_MIN)
    return Repair(
        repair, f"{verb.capitalize()} {_named(part, element)}",
        reach + part.fit_min + _VERIFY_MIN, part.price, part.price >= _COSTLY_PRICE,
    )


def _named(part: Part, element: str) -> str:
    label = f" ({part.label})" if part.label else ""
    return f"{part.kind} {element}{label}"


def _reach(circuit: Circuit, *parts: str) -> float:
    """Return minutes to the farthest of some parts."""
    places = [circuit.places.get(circuit.place_of(part)) for part in parts]
    return max((place.reach_min for place in places if place is not None), default=0.0)
