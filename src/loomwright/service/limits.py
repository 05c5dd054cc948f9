"""Limits for what was repaired, each with where it comes from and how far it may be trusted."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from loomwright.circuit.model import Circuit

__all__ = ["limit_rows", "model_words"]

# What the rows of the table of drops are about, by the kind of part.
ROWS = {
    "earth": ("earth strap or single connection",), "connector": (
        "earth strap or single connection",),
    "switch": ("switch or relay contact",), "relay": ("switch or relay contact",),
    "starter": ("starter",), "battery": ("battery",), "alternator": ("alternator", "charging"),
    "lamp": ("lamps", "headlamps"), "controller": ("ECU", "sensor/ECU earth"),
}


def limit_rows(circuit: Circuit, repairs: tuple[str, ...]) -> tuple[tuple[str, str, str], ...]:
    """Return (what, limit, source) of published or usual volt drops at what was repaired.

    Where the table has rows for the circuit's own system voltage, those are given, else those of
    another, with its voltage; a row that stands in no document that was read says so.
    """
    from loomwright.data import table

    starts = tuple(one for kind in _kinds(circuit, repairs) for one in ROWS.get(kind, ()))
    rows = [row for row in table("voltage_drop_limits").rows
            if starts and row["system_v"] and row["where"].startswith(starts)]
    own = [row for row in rows if float(row["system_v"]) == circuit.system_v]
    return tuple(_row(row, "" if own else f" (on {row['system_v']} V)") for row in own or rows)


def _row(row: Mapping[str, str], systems: str) -> tuple[str, str, str]:
    return (f"Volt drop, {row['where']}{systems}",
            f"{float(row['limit']):g} {row['unit']}, {row['meaning']}", _source(row))


def _kinds(circuit: Circuit, repairs: tuple[str, ...]) -> tuple[str, ...]:
    """Return the kinds of the parts that repairs such as 'clean X1.3' name."""
    owners = (one.partition(" ")[2].partition(".")[0] for one in repairs)
    return tuple(circuit.parts[name].kind for name in owners if name in circuit.parts)


def _source(row: Mapping[str, str]) -> str:
    from loomwright.data import source

    if row["grade"] == "memory":
        return "from memory, not confirmed"
    if row["grade"] == "practice":
        return "common practice"
    return "; ".join(source(one).title for one in row["source"].split(";"))


def model_words(circuit: Circuit) -> str:
    """Return where the healthy values of readings come from, and how much of it is assumed."""
    assumed = sum(len(part.assumed) for part in circuit.parts.values())
    assumed += sum(len(wire.assumed) for wire in circuit.wires.values())
    words = f"worked out from the circuit file '{circuit.title}' without a fault"
    if assumed:
        words += f"; {assumed} of its values are assumed, not measured"
    return words
