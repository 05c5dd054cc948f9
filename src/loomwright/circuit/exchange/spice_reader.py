"""Reads a SPICE netlist into a circuit file, as far as a circuit file can state it."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field

from loomwright.circuit.model import Mark
from loomwright.circuit.reader.problems import Problems
from loomwright.circuit.reader.text import check_text
from loomwright.errors import FileProblemsError, Problem

__all__ = ["ImportedNetlist", "read_netlist"]

# Prefixes of SPICE: m is milli, meg is mega; letters after them are a unit and count for nothing.
_NUMBER = re.compile(r"([-+]?(?:\d+\.?\d*|\.\d+)(?:e[-+]?\d+)?)([a-z]*)$")
_PREFIXES = (("meg", 1e6), ("mil", 25.4e-6), ("t", 1e12), ("g", 1e9), ("k", 1e3), ("m", 1e-3),
             ("u", 1e-6), ("n", 1e-9), ("p", 1e-12), ("f", 1e-15))
_INNER_OHM = 1e-6  # of an ideal source; assumed, far below any contact
_JOINT = "100 mm2, 1 mm"  # a wire of about 0.2 microhm, which stands for no wire at all
_LEAST_OHM, _MOST_OHM = 1e-9, 1e12
_CARDS_WITHOUT_EFFECT = {".op", ".end", ".options", ".option", ".title", ".temp", ".print",
                         ".plot", ".probe", ".save", ".tran", ".ac", ".dc", ".ends", ".width"}


@dataclass(frozen=True, slots=True)
class ImportedNetlist:
    """A circuit file made from a netlist, and what could not be stated, in file order."""

    text: str
    problems: tuple[Problem, ...]


@dataclass(slots=True)
class _Built:
    """The parts, wires and problems gathered so far."""

    problems: Problems
    parts: dict[str, str] = field(default_factory=dict)
    ends: list[tuple[str, str]] = field(default_factory=list)  # pin, node
    joints: list[tuple[str, str]] = field(default_factory=list)  # node, node
    conditions: list[str] = field(default_factory=list)

    def part(self, name: str, text: str, pins: tuple[str, str], nodes: list[str]) -> None:
        """Add a part with two pins on two nodes."""
        self.parts[name] = text
        self.ends += [(f"{name}.{pin}", node) for pin, node in zip(pins, nodes, strict=True)]


@dataclass(frozen=True, slots=True)
class _Card:
    """One line of a netlist with those that continue it."""

    line: int
    words: list[str]

    @property
    def name(self) -> str:
        """Return the element's name as a part may be called."""
        return re.sub(r"[^A-Za-z0-9_-]", "_", self.words[0].upper())[:40]


def read_netlist(text: str, file: str = "netlist") -> ImportedNetlist:
    """Return a circuit file made from a SPICE netlist.

    R, V, D, C, S, W, and V or L as a plain joint are stated; each node becomes a splice joined by
    wires without worth. A diode has our own law, a switch is a condition of its own name. The
    first line is a title, as SPICE has it.

    Parameters
        text: of the netlist
        file: its name in messages
    Returns
        ImportedNetlist: the text of a circuit file with what could be stated, and a problem with
            its line for everything else
    Raises
        FileProblemsError: nothing in it can be stated, or no source drives a current
        UsageError: the text is over 1 MB
    """
    problems = Problems(file)
    lines = check_text(text, problems).splitlines()
    built = _Built(problems)
    for card in _cards(lines):
        _take(card, built)
    if not any("kind: battery" in part for part in built.parts.values()):
        problems.add(Mark(1, 1), "No voltage source drives a current.",
                     "Add one, like 'V1 plus 0 DC 12'.")
        problems.stop()
    title = re.sub(r"[^\w ,.()-]", " ", lines[0]).strip() or "Imported netlist"
    return ImportedNetlist(_text(title, built), _found(problems))


def _found(problems: Problems) -> tuple[Problem, ...]:
    """Return the problems noted so far."""
    try:
        problems.stop()
    except FileProblemsError as error:
        return error.problems
    return ()


def _cards(lines: list[str]) -> list[_Card]:
    """Return the cards after the title, without comments, continuations joined."""
    found: list[_Card] = []
    in_control = False
    for number, line in enumerate(lines[1:], 2):
        words = re.split(r"[;$]", line)[0].replace("(", " ").replace(")", " ").replace(
            ",", " ").replace("=", " = ").split()
        if not words or words[0].startswith("*"):
            continue
        start = words[0].lower()
        if start in {".control", ".endc"}:
            in_control = start == ".control"
        elif start == ".end":
            break
        elif not in_control and words[0].startswith("+") and found:
            found[-1].words.extend([words[0][1:], *words[1:]] if words[0][1:] else words[1:])
        elif not in_control:
            found.append(_Card(number, words))
    return found


def _take(card: _Card, built: _Built) -> None:
    """State one card, or note why it cannot be stated."""
    first = card.words[0].lower()
    if first.startswith("."):
        if first == ".model":
            _model(card, built)
        elif first not in _CARDS_WITHOUT_EFFECT:
            _refuse(card, built, f"'{first}' is not read.", "Write the elements out in one file.")
        return
    state = _ELEMENTS.get(first[0])
    if state is None:
        what = _OTHERS.get(first[0], "an element that a circuit file does not know")
        _refuse(card, built, f"{card.words[0]} is {what}, which a circuit file cannot state.",
                "Stand in for it by resistors and sources.")
    elif card.name in built.parts:
        _refuse(card, built, f"{card.words[0]} is given twice.", "Rename one of them.")
    elif len(card.words) < 3:
        _refuse(card, built, f"{card.words[0]} has no two nodes.", "Write name, node, node, value.")
    else:
        state(card, [word.lower() for word in card.words[1:3]], built)


def _refuse(card: _Card, built: _Built, what: str, fix: str) -> None:
    built.problems.add(Mark(card.line, 1), what, fix)


def _value(card: _Card, built: _Built, at: int = 3) -> float | None:
    """Return the number of a card, or note that there is none."""
    words = [word for word in card.words[at:] if word.lower() not in {"dc", "=", "r", "c", "l"}]
    found = _NUMBER.match(words[0].lower()) if words else None
    if found is None:
        _refuse(card, built, f"{card.words[0]} has no plain number.",
                "Write its value, like 4.7k; formulas and parameters are not read.")
        return None
    factor = next((size for prefix, size in _PREFIXES if found[2].startswith(prefix)), 1.0)
    return float(found[1]) * factor


def _resistor(card: _Card, nodes: list[str], built: _Built) -> None:
    ohm = _value(card, built)
    if ohm is None:
        return
    if ohm == 0:
        built.joints.append((nodes[0], nodes[1]))
    elif not _LEAST_OHM <= ohm <= _MOST_OHM:
        _refuse(card, built, f"{card.words[0]} has {ohm:g} ohm, which is no resistance.",
                "Write 1e-9 to 1e12 ohm.")
    else:
        built.part(card.name, f"{{kind: resistor, resistance: {ohm:.12g} ohm}}", ("1", "2"), nodes)


def _source(card: _Card, nodes: list[str], built: _Built) -> None:
    """State a voltage source as a battery; one of 0 V is a joint."""
    volts = _value(card, built)
    if volts is None:
        return
    shapes = {"sin", "pulse", "exp", "pwl", "sffm", "am"} & {word.lower() for word in card.words}
    if shapes:
        _refuse(card, built, f"{card.words[0]} changes over time.", "Its DC value is taken.")
    if volts == 0:
        built.joints.append((nodes[0], nodes[1]))
        return
    pins = ("+", "-") if volts > 0 else ("-", "+")
    built.part(card.name, f"{{kind: battery, volts: {abs(volts):.12g} V, "
               f"resistance: {_INNER_OHM:.12g} ohm}}", pins, nodes)


def _diode(card: _Card, nodes: list[str], built: _Built) -> None:
    built.part(card.name, "{kind: diode}", ("1", "2"), nodes)


def _capacitor(card: _Card, nodes: list[str], built: _Built) -> None:
    built.part(card.name, "{kind: capacitor}", ("1", "2"), nodes)


def _inductor(card: _Card, nodes: list[str], built: _Built) -> None:
    built.joints.append((nodes[0], nodes[1]))


def _switch(card: _Card, nodes: list[str], built: _Built) -> None:
    built.part(card.name, "{kind: switch}", ("1", "2"), nodes)
    built.conditions.append(card.name)
    _refuse(card, built, f"What closes {card.words[0]} is not read: it is a switch that the "
            f"condition '{card.name}' closes.", "Give it a 'closed when' rule.")


def _model(card: _Card, built: _Built) -> None:
    kind = card.words[2].lower() if len(card.words) > 2 else ""
    if kind == "d" and len(card.words) > 3:
        _refuse(card, built, f"The values of diode model {card.words[1]} are not read.",
                "Every diode has Loomwright's own law.")


_ELEMENTS: dict[str, Callable[[_Card, list[str], _Built], None]] = {
    "r": _resistor, "v": _source, "d": _diode, "c": _capacitor, "l": _inductor, "s": _switch,
    "w": _switch,
}
_OTHERS = {
    "i": "a current source", "b": "a behavioural source", "e": "a controlled source",
    "f": "a controlled source", "g": "a controlled source", "h": "a controlled source",
    "q": "a transistor", "m": "a transistor", "j": "a transistor", "x": "a subcircuit",
    "k": "a coupling", "t": "a line",
}


def _text(title: str, built: _Built) -> str:
    """Return the circuit file. The battery on node 0 comes first: its minus is 0 V."""
    names = _splices(built)
    grounded = [pin.partition(".")[0] for pin, node in built.ends
                if node in {"0", "gnd"} and pin.endswith(".-")]
    order = [*dict.fromkeys(name for name in grounded), *built.parts]
    volts = [float(found[1]) for part in built.parts.values()
             if (found := re.search(r"volts: (\S+) V", part))]
    lines = ["# Read from a SPICE netlist; every node is a splice.", "loomwright: 1",
             f"title: {title}", f"system: {max(volts):.12g} V", "parts:"]
    lines += [f"  {name}: {built.parts[name]}" for name in dict.fromkeys(order)]
    lines += [f"  {name}: {{kind: splice}}" for name in names.values()]
    lines.append("wires:")
    pairs = [(pin, names[node]) for pin, node in built.ends]
    pairs += [(names[a], names[b]) for a, b in built.joints if a != b]
    lines += [f"  - [{_wire_name(number, built)}, {a}, {b}, {_JOINT}]"
              for number, (a, b) in enumerate(pairs, 1)]
    lines += ["states:", "  at rest: {}"]
    if built.conditions:
        closed = ", ".join(f"{name}: on" for name in built.conditions)
        lines.append(f"  all closed: {{{closed}}}")
    return "\n".join([*lines, ""])


def _wire_name(number: int, built: _Built) -> str:
    return f"J{number}" if f"J{number}" not in built.parts else f"J{number}_"


def _splices(built: _Built) -> dict[str, str]:
    """Return a splice's name for each node."""
    nodes = dict.fromkeys([*(node for _, node in built.ends),
                           *(node for pair in built.joints for node in pair)])
    found: dict[str, str] = {}
    for node in nodes:
        name = "N_" + re.sub(r"[^A-Za-z0-9_-]", "_", node)[:36]
        while name in found.values() or name in built.parts:
            name += "_"
        found[node] = name
    return found
