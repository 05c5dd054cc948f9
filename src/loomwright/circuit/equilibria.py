"""States with more than one resting point, and states with none: relays that hold or chatter."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np

from loomwright.circuit.batch import Solved, solve_from
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.kinds.controller import outputs_of
from loomwright.circuit.model import Circuit
from loomwright.circuit.rules import History
from loomwright.circuit.solve import described
from loomwright.units import format_quantity

__all__ = ["Chatter", "RestingPoint", "chatter_of", "other_rest"]

_MOST_TURNS = 80  # of the circle that a restless circuit goes round in
_CALLED = {"relay": "relay", "output": "output", "alive": "controller", "input": "input",
           "out": "lamp-out feedback of", "blown": "fuse", "protects": "protection of"}


@dataclass(frozen=True, slots=True)
class RestingPoint:
    """How a state rests when what can hold itself was on beforehand, against from rest.

    `holds` names relays and outputs that are on then and off from rest, `lets_go` the opposite;
    `parts` gives, of parts that do otherwise, what they do from rest and after.
    """

    holds: tuple[str, ...]
    lets_go: tuple[str, ...]
    parts: dict[str, tuple[str, str]]

    def text(self) -> str:
        """Return it in a sentence."""
        kept = f"{_listed(self.holds)} off" if self.holds else f"{_listed(self.lets_go)} on"
        after = f"{_listed(self.holds)} on" if self.holds else f"{_listed(self.lets_go)} off"
        changed = ", ".join(f"{name} {then}" for name, (_, then) in self.parts.items()
                            if name not in (*self.holds, *self.lets_go))
        return (f"Two resting points: from rest {kept}; if it was on before, it stays: {after}"
                f"{f' (then {changed})' if changed else ''}. What is shown is from rest.")


@dataclass(frozen=True, slots=True)
class Chatter:
    """A relay that never comes to rest, with the pull on its coil while it is in and while out."""

    relay: str
    unit: str
    pull_in: float
    drop_out: float
    while_out: float
    while_in: float

    def text(self) -> str:
        """Return it in a sentence."""
        pulls, drops, out, held = (format_quantity(one, self.unit) for one in (
            self.pull_in, self.drop_out, self.while_out, self.while_in))
        return (f"Relay {self.relay} chatters: while it is out its coil has {out} and pulls in "
                f"(from {pulls}); once in, that falls to {held} and it lets go (below {drops}). "
                "Look for a weak supply, a poor joint in its feed or earth, or a feed that its "
                "own contact takes away.")


def other_rest(circuit: Circuit, state: str) -> RestingPoint | None:
    """Return the second resting point of a state, or None where history makes no difference.

    The state is solved from rest, and again from every relay pulled in and every output on.
    Latching relays are left as their rule says in both. Fuses count as whole at the start.

    Raises
        UnknownNameError: no such state
        SolveError: there is no solution
    """
    rest = solve_from(circuit, state, History())
    flags = {name: True for name in rest.logic.row if _can_hold(circuit, name)}
    if not flags:
        return None
    pulled = solve_from(circuit, state, History(flags=flags))
    if rest.result.chatters[0] or pulled.result.chatters[0]:
        return None
    holds: list[str] = []
    lets_go: list[str] = []
    for name in flags:
        row = rest.logic.row[name]
        before, after = bool(rest.found.flags[row, 0]), bool(pulled.found.flags[row, 0])
        if before != after:
            (holds if after else lets_go).append(name.partition(":")[2])
    if not holds and not lets_go:
        return None
    first, second = described(rest.result).parts, described(pulled.result).parts
    parts = {name: (first[name].doing, second[name].doing) for name, part in circuit.parts.items()
             if first[name].doing != second[name].doing
             and (KINDS[part.kind].load or part.kind == "relay")}
    return RestingPoint(tuple(holds), tuple(lets_go), parts)


def _can_hold(circuit: Circuit, flag: str) -> bool:
    """Return whether a flag is one that may hold itself: a relay's or an output's."""
    kind, _, name = flag.partition(":")
    if kind == "relay":
        # the coils of a latching relay are pulses; how it was left is its own rule
        return "." not in name or circuit.parts[name.partition(".")[0]].kind != "latching relay"
    if kind != "output":
        return False
    part, _, item = name.partition(".")
    return any(out.id == item for out in outputs_of(circuit.parts[part]))


def _listed(names: tuple[str, ...]) -> str:
    return " and ".join(names)


def chatter_of(circuit: Circuit, state: str) -> tuple[Chatter | str, ...]:
    """Return what goes on and off without end in a state: relays with volts, the rest in words.

    The circle is walked step by step with every flag held, as `solve` meets it.

    Raises
        UnknownNameError: no such state
        SolveError: there is no solution
    """
    start = solve_from(circuit, state, History())
    if not start.result.chatters[0]:
        return ()
    names = list(start.logic.row)
    flags = {name: bool(start.found.flags[row, 0]) for name, row in start.logic.row.items()}
    met: list[dict[str, bool]] = []
    pulls: list[dict[str, float]] = []
    while flags not in met and len(met) < _MOST_TURNS:
        here = solve_from(circuit, state, History(flags=flags), follow=False)
        met.append(flags)
        pulls.append(_pulls(here))
        flags = _following(here, names)
    first = met.index(flags) if flags in met else 0
    circle = list(zip(met[first:], pulls[first:], strict=True))
    moving = [name for name in names if len({step[name] for step, _ in circle}) > 1]
    return tuple(_told(start, name, circle) for name in moving if not name.startswith("blown:"))


def _pulls(here: Solved) -> dict[str, float]:
    pulls = here.logic.pulls(here.found.amps, here.values.ohm)
    return {name: float(pull[0]) for name, pull in zip(here.logic.relays, pulls, strict=True)}


def _following(here: Solved, names: list[str]) -> dict[str, bool]:
    found = here.found
    pulls = here.logic.pulls(found.amps, here.values.ohm)
    logic = dataclasses.replace(here.logic, fuses={})
    after = logic.following(found.flags, found.volts, found.amps, pulls, here.values.forces,
                            np.zeros(1, np.bool_))
    return {name: bool(after[here.logic.row[name], 0]) for name in names}


def _told(start: Solved, flag: str, circle: list[tuple[dict[str, bool], dict[str, float]]]
          ) -> Chatter | str:
    kind, _, name = flag.partition(":")
    if kind != "relay":
        return f"{_CALLED.get(kind, kind).capitalize()} {name} goes on and off without end."
    plunger = start.logic.relays[name].plunger
    out = max(pulls[name] for step, pulls in circle if not step[flag])
    held = min(pulls[name] for step, pulls in circle if step[flag])
    return Chatter(name, "V" if plunger.by == "volts" else "A", plunger.pull_in,
                   plunger.drop_out, out, held)
