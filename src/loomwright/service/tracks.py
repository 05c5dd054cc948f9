"""Which elements of a circuit a complaint concerns: what the drawing can be cut down to."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

from loomwright.service import reasoning

if TYPE_CHECKING:
    from loomwright.diagnosis.records import Diagnosis
    from loomwright.jobs.records import History
    from loomwright.service.benches import Bench

__all__ = ["complaint_elements"]

SEEN = frozenset({"lit", "running", "output"})  # a function that was tried
LEAST = 1e-3  # share of the belief below which a suspect does not put its track in the drawing


def complaint_elements(bench: Bench, history: History, diagnosis: Diagnosis,
                       points: tuple[str, ...] = ()) -> frozenset[str]:
    """Return the elements that could explain what was seen, and those that were read.

    Those are the suspects after the functions alone, so that the drawing does not shrink from
    reading to reading. Empty, which means all, until a function was tried.
    """
    seen = tuple(one for one in history.readings if one.quantity in SEEN)
    if not seen:
        return frozenset()
    first = reasoning.diagnosis_of(bench, dataclasses.replace(history, readings=seen))
    found = [one.element for one in (*first.suspects, *diagnosis.suspects)
             if one.probability > LEAST]
    found += [name for one in history.readings for name in (one.point, one.to)]
    return _with_owners(bench, [*found, *points])


def _with_owners(bench: Bench, names: list[str]) -> frozenset[str]:
    """Return elements as the drawing knows them, with what always belongs to it."""
    circuit = bench.circuit
    found = {part.id for part in circuit.parts.values() if part.kind in ("battery", "earth")}
    for name in (one for text in names for one in text.split("+")):
        owner = name.split(".", 1)[0]
        part = circuit.parts.get(owner)
        if part is not None and part.kind == "connector":
            found.add(name.rstrip("ab"))
        elif part is not None:
            found.add(owner)
        elif name in circuit.wires:
            found.add(name)
    ends = {wire.id: (wire.start.point, wire.end.point if wire.end else "")
            for wire in circuit.wires.values()}
    for name in [one for one in found if one in ends]:  # a wire is drawn with what it ends at
        found |= {_drawn(bench, point) for point in ends[name] if point}
    return frozenset(found)


def _drawn(bench: Bench, point: str) -> str:
    owner = point.split(".", 1)[0]
    part = bench.circuit.parts.get(owner)
    return point.rstrip("ab") if part is not None and part.kind == "connector" else owner
