"""Writes one state of a circuit as a SPICE netlist, our own laws as behavioural sources."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass

from loomwright.circuit import laws
from loomwright.circuit.batch import Variant, blown_after, operating
from loomwright.circuit.branches import Branch
from loomwright.circuit.model import Circuit
from loomwright.circuit.network import network_of
from loomwright.circuit.operate import GMIN_S, branch_conductance
from loomwright.circuit.values import widened

__all__ = ["node_names", "spice_text"]

_VARIANT = (Variant(),)
_NOT_A_NAME = re.compile(r"[^a-z0-9]+")


@dataclass(frozen=True, slots=True)
class _Element:
    """One branch with its numbers in the state, its SPICE name, and its two nodes."""

    branch: Branch
    name: str
    a: str
    b: str
    ohm: float
    emf: float
    rated_a: float
    amps: float


def node_names(circuit: Circuit) -> dict[str, str]:
    """Return the SPICE node of every node; the battery's negative post is node 0."""
    network = widened(network_of(circuit), circuit, _VARIANT)
    reference = int((network.plan.row_of < 0).argmax())
    found: dict[str, str] = {}
    for number, name in enumerate(network.nodes):
        word = _word(name)
        while word in found.values():
            word += "_"
        found[name] = "0" if number == reference else word
    return found


def _word(name: str) -> str:
    """Return a name that SPICE takes: `BAT.+` is n_bat_plus."""
    text = name.lower().replace("+", " plus").replace("-", " minus")
    return "n_" + _NOT_A_NAME.sub("_", text).strip("_")


def spice_text(circuit: Circuit, state: str) -> str:
    """Return one state of a circuit as a SPICE netlist with an operating point.

    Relays, switches, outputs and fuses stand as the state leaves them: those that conduct are
    resistors, those that do not are left out with a comment. Wires and contacts are resistors.
    Lamps, diodes, motors and regulated sources are behavioural current sources of our own laws
    (syntax of ngspice), so that another program must find the same volts. A converter's input is
    a source of the current that it takes.

    Parameters
        circuit: with its faults, if it carries any
        state: a state of the circuit
    Raises
        UnknownNameError: there is no such state
        SolveError: no battery, or nothing joined to its negative post
    Validity
        steady direct current in this one state
    """
    # as `solve` has it: fuses that a fault blows in another state are blown here too
    blown = blown_after(circuit, _VARIANT) if circuit.faults else None
    logic, values, found = operating(circuit, state, _VARIANT, blown)
    network = values.network
    conductance, conducts = branch_conductance(logic, values, found.flags)
    nodes = node_names(circuit)
    lines = [f"* {circuit.title or 'Circuit'}, state '{state}'",
             "* Written by Loomwright: steady direct current, volts against "
             f"{next(name for name, node in nodes.items() if node == '0')}.",
             *(f"* node {node} is {name}" for name, node in nodes.items())]
    for row, branch in enumerate(network.branches):
        element = _Element(
            branch, f"{row + 1}{_word(branch.id)[1:]}", nodes[branch.a], nodes[branch.b],
            1 / float(conductance[row, 0]) if conductance[row, 0] else math.inf,
            float(values.emf[row, 0]), float(values.rated_a[row, 0]), float(found.amps[row, 0]))
        lines += _lines(element, bool(conducts[row, 0]))
        if values.shunt[row, 0]:
            lines.append(f"RS{element.name} {element.a} {element.b} "
                         f"{1 / float(values.shunt[row, 0]):.12g}")
    if any(branch.law == "regulated" for branch in network.branches):
        # a regulated source is so stiff that other programs need a first guess; only a guess
        lines += [f".nodeset v({nodes[name]})={float(found.volts[number, 0]):.6g}"
                  for name, number in network.index.items() if nodes[name] != "0"]
    lines += [f"RG{number} {node} 0 {1 / GMIN_S:.12g}"
              for number, node in enumerate(nodes.values(), 1) if node != "0"]
    return "\n".join([*lines, ".options reltol=1e-7 vntol=1e-9 abstol=1e-12 gmin=1e-15 itl1=500",
                      ".op", ".end", ""])


def _lines(element: _Element, conducts: bool) -> list[str]:
    """Return a branch's lines."""
    name, a, b = element.name, element.a, element.b
    if math.isinf(element.ohm):
        return [f"* {element.branch.id} is open"]
    if a == b:
        return [f"* {element.branch.id} has both ends on one node"]
    law = _LAWS.get(element.branch.law)
    if law is not None and conducts:
        return [f"B{name} {a} {b} I = {law(element, f'V({a},{b})')}"]
    if element.emf and conducts:
        inner = f"i{name}"
        return [f"V{name} {inner} {a} DC {element.emf:.12g}",
                f"R{name} {inner} {b} {element.ohm:.12g}"]
    return [f"R{name} {a} {b} {element.ohm:.12g}"]


def _lamp(element: _Element, volts: str) -> str:
    """Return the filament's law, see `laws.lamp_current`."""
    branch = element.branch
    bend = (1 - laws.LAMP_EXPONENT) / 2
    start2 = (branch.cold_ohm / branch.ohm) ** (1 / bend)
    share2 = f"pow({volts}/{branch.rated_v:.12g}, 2)"
    return (f"{volts}/{element.ohm:.12g} * "
            f"exp({bend:.12g}*ln({1 + start2:.15g}/({share2}+{start2:.15g})))")


def _diode(element: _Element, volts: str) -> str:
    """Return the diode's law, see `laws.diode_current`, with its constants read from it."""
    step, bulk = laws.DIODE_VOLTS, element.ohm
    saturation, reverse = laws.DIODE_SATURATION_A, laws.DIODE_REVERSE_S
    knee = step * math.log(step / bulk / saturation)
    return (f"({volts} < 0) ? ({reverse:.12g}*{volts}) : ({saturation:.12g}*"
            f"(exp(min({volts}, {knee:.15g})/{step:.12g})-1)"
            f" + max({volts}-{knee:.15g}, 0)/{bulk:.12g})")


def _motor(element: _Element, volts: str) -> str:
    """Return the motor's law, see `laws.motor_current`."""
    ohm, rated_v = element.ohm, element.branch.rated_v
    if math.isinf(element.rated_a):
        return f"{volts}/{ohm:.12g}"
    break_a = laws.MOTOR_BREAKAWAY * element.rated_a
    break_v = min(break_a * ohm, 0.95 * rated_v)
    running = (element.rated_a - break_a) / (rated_v - break_v)
    return (f"(abs({volts}) <= {break_v:.15g}) ? ({volts}/{ohm:.12g}) : (sgn({volts})*"
            f"({break_v / ohm:.15g}+{running:.15g}*(abs({volts})-{break_v:.15g})))")


def _battery(element: _Element, volts: str) -> str:
    """Return the law of a battery that something charges, see `laws.battery_current`."""
    drive = f"({volts}+{element.emf:.12g})"
    charge = max(element.branch.charge_ohm, element.ohm)
    return f"{drive} < 0 ? {drive}/{charge:.12g} : {drive}/{element.ohm:.12g}"


def _regulated(element: _Element, volts: str) -> str:
    """Return the law of a regulated source, see `laws.regulated_current`."""
    drive, limit = f"({volts}+{element.emf:.12g})", element.rated_a
    if limit <= 0:
        return f"{laws.BLOCKED_S:.12g}*{drive}"
    width = element.ohm * limit
    return (f"{drive} >= {width:.15g} ? {limit:.12g}+{laws.LIMITED_S:.12g}*({drive}-{width:.15g})"
            f" : ({drive} <= 0 ? {laws.BLOCKED_S:.12g}*{drive} : {drive}/{element.ohm:.12g})")


def _mirror(element: _Element, volts: str) -> str:
    return f"{element.amps:.12g}"


_LAWS: dict[str, Callable[[_Element, str], str]] = {
    "lamp": _lamp, "diode": _diode, "motor": _motor, "battery": _battery,
    "regulated": _regulated, "mirror": _mirror,
}
