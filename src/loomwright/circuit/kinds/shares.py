"""How a kind's faults share its weight: published ratios of failure modes, where modes map."""

from __future__ import annotations

import dataclasses

from loomwright.circuit.branches import FaultMode
from loomwright.data import table

__all__ = ["shared_out"]

_WORDS = {
    "published": "split MIL-HDBK-338B second hand (S140), sum assumed",
    "memory": "split MIL-HDBK-338B from memory, sum assumed",
}


def shared_out(part_kind: str, modes: tuple[FaultMode, ...]) -> tuple[FaultMode, ...]:
    """Return the faults of a kind with weights in the ratio of the table `failure_modes`.

    The sum of the weights that a published mode stands for is kept; modes of the table that no
    fault stands for are left out of the ratio. Faults that one mode stands for keep their own
    ratio. Faults that none stands for keep their weights. Source: S140, see the table's grades.
    """
    rows = [row for row in table("failure_modes").rows
            if row["part_kind"] == part_kind and row["fault_kinds"]]
    given = {mode.kind: mode for mode in modes}
    groups = {row["mode"]: [given[kind] for kind in row["fault_kinds"].split(";")]
              for row in rows}
    if len(groups) < 2:
        return modes  # one mode has nothing to share
    total = sum(mode.prior for group in groups.values() for mode in group)
    shares = {row["mode"]: float(row["share"]) for row in rows}
    whole = sum(shares.values())
    found = {}
    for row in rows:
        group = groups[row["mode"]]
        factor = total * shares[row["mode"]] / whole / sum(mode.prior for mode in group)
        for mode in group:
            found[mode.kind] = dataclasses.replace(mode, prior=mode.prior * factor,
                                                   source=_WORDS[row["grade"]])
    return tuple(found.get(mode.kind, mode) for mode in modes)
