"""Which switches are closed while nobody has touched anything: they are drawn as break contacts."""

from __future__ import annotations

from loomwright.circuit.kinds.selector import position_of
from loomwright.circuit.kinds.switch import rule_of
from loomwright.circuit.model import Circuit, Part

__all__ = ["rests_closed"]

_NOT = frozenset({"off", "no", "false"})  # what a state that is silent says of a word


def rests_closed(circuit: Circuit, part: Part) -> bool:
    """Return whether a switch's rule holds in a state that says nothing.

    Parameters
        circuit: for its selectors, which stand in their first position then
        part: of any kind; only a switch can rest closed
    """
    if part.kind != "switch":
        return False
    first = {str(one.params["word"] or one.id): position_of(one, {})
             for one in circuit.parts.values() if one.kind == "selector"}
    return rule_of(part).evaluate(
        lambda name, value: bool(value) and (value == first.get(name) or value.lower() in _NOT))
