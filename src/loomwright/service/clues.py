"""From what was told about a vehicle to clues: which faults of its circuit each speaks about."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from loomwright.errors import UsageError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from loomwright.circuit import CircuitPlant
    from loomwright.circuit.remarks import CodeRemark, HistoryRemark, Remarks, SwapRemark
    from loomwright.diagnosis import Table
    from loomwright.diagnosis.records import Clue
    from loomwright.plant import Check

__all__ = ["clues_of"]

NEW_PART_BAD = 0.03  # the known good part is bad too, or was fitted wrongly; assumed
CONTACTS_CURED = 0.1  # unplugging and plugging a part cures a fault beside it; assumed
MOVED = 0.3  # a code about an output is stored when its current is off by this share; assumed


def clues_of(table: Table, plant: CircuitPlant, remarks: Remarks) -> tuple[Clue, ...]:
    """Return the clues that remarks on a vehicle give.

    Parameters
        table, plant: of the vehicle's circuit
        remarks: codes, swaps and history as told
    """
    return (*(_code(table, plant, one) for one in remarks.codes),
            *(_swap(table, one) for one in remarks.swapped),
            *(_past(table, plant, one) for one in remarks.history))


def _faults(table: Table, elements: Iterable[str]) -> list[str]:
    """Return the faults of some elements; a connector or controller stands for all its ways."""
    wanted = set(elements)
    return [name for name, rows in table.fault_rows.items()
            if {table.rows[rows[0]].element, table.rows[rows[0]].element.split(".", 1)[0]} & wanted]


def _swap(table: Table, told: SwapRemark) -> Clue:
    from loomwright.diagnosis.records import Clue

    own = [name for name, rows in table.fault_rows.items()
           if table.rows[rows[0]].repair == f"replace {told.part}"]
    if told.gone:
        return Clue(f"With another {told.part} the complaint was gone",
                    tuple((name, 1.0) for name in own), CONTACTS_CURED, CONTACTS_CURED,
                    CONTACTS_CURED)
    return Clue(f"A known good {told.part} in its place changed nothing",
                tuple((name, NEW_PART_BAD) for name in own))


def _past(table: Table, plant: CircuitPlant, told: HistoryRemark) -> Clue:
    from loomwright.diagnosis.records import Clue

    circuit = plant.circuit
    touched = set(told.touched)
    touched |= {part for part in circuit.parts if circuit.place_of(part) in touched}
    for wire in circuit.wires.values():  # work on a part moves the wires at it
        ends = {wire.start.part, wire.end.part if wire.end else wire.start.part}
        if ends & set(told.touched):
            touched.add(wire.id)
    own = _faults(table, touched)
    return Clue(f"Just before the fault: {told.what}",
                tuple((name, told.weight) for name in own),
                unmodelled=told.weight if told.added else 1.0)


def _code(table: Table, plant: CircuitPlant, told: CodeRemark) -> Clue:
    from loomwright.diagnosis.records import Clue

    shares = dict.fromkeys(_faults(table, told.about), 1.0)
    for name in told.about:
        if "." in name:
            for fault, share in _moving(table, plant, name).items():
                shares[fault] = max(shares.get(fault, 0.0), share)
    seen = {name: share * (1.0 - told.miss) + (1.0 - share) * told.false_alarm
            for name, share in shares.items()}
    if told.stored:
        return Clue(f"The code '{told.code}' is stored", tuple(seen.items()), told.false_alarm,
                    told.false_alarm, told.false_alarm)
    return Clue(f"The code '{told.code}' is not stored",
                tuple((name, 1.0 - share) for name, share in seen.items()),
                1.0 - told.false_alarm, 1.0 - told.false_alarm, 1.0 - told.false_alarm)


def _moving(table: Table, plant: CircuitPlant, item: str) -> dict[str, float]:
    """Return the share of each fault's severities that a controller would notice at an item.

    At an input when what it lists changes, at an output when its current is off by a third, in any
    state; computed by the circuit itself.
    """
    import numpy as np

    moved: NDArray[np.bool_] = np.zeros(len(table.rows), dtype=bool)
    for check in _looks(plant, item):
        model = table.model(check)
        middle = len(table.log_weights) // 2
        if model.levels is not None:
            level = model.levels[middle].argmax(axis=1)
            moved |= level != level[0]
        elif abs(float(model.raw[middle, 0])) > 0.0:
            off = np.abs(model.raw[middle] - model.raw[middle, 0])
            moved |= np.nan_to_num(off) > MOVED * abs(float(model.raw[middle, 0]))
    moved[0] = moved[-1] = False
    prior = np.exp(table.log_prior)
    return {name: float(prior[list(rows)] @ moved[list(rows)] / prior[list(rows)].sum())
            for name, rows in table.fault_rows.items() if moved[list(rows)].any()}


def _looks(plant: CircuitPlant, item: str) -> list[Check]:
    """Return what a controller watches at one of its items, in every state."""
    circuit = plant.circuit
    owner, _, name = item.partition(".")
    part = circuit.parts.get(owner)
    inputs = part.params.get("inputs") if part is not None else None
    if isinstance(inputs, tuple) and name in {getattr(one, "id", "") for one in inputs}:
        return [plant.check_for(state, "input", item, "", "controller")
                for state in circuit.states]
    pin = _pin(plant, owner, name)
    wires = [wire.id for wire in circuit.wires.values()
             if pin and pin in {wire.start.point, wire.end.point if wire.end else ""}]
    found = []
    for state in circuit.states:
        for wire in wires:
            try:
                found.append(plant.check_for(state, "current", wire, "", "clamp"))
            except UsageError:
                continue
    return found


def _pin(plant: CircuitPlant, owner: str, name: str) -> str:
    """Return the point of a controller's output ('' where it has none)."""
    part = plant.circuit.parts.get(owner)
    outputs = part.params.get("outputs") if part is not None else None
    for one in outputs if isinstance(outputs, tuple) else ():
        if getattr(one, "id", "") == name:
            return f"{owner}.{getattr(one, 'pin', '')}"
    return ""
