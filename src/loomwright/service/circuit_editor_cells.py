"""Cells of the circuit editor's tables: from YAML nodes to what is shown, and back to YAML.

A cell is what a person types, shorter than the file where nothing can be mistaken: `2,5` below the
heading mm2, `rd` for a colour, `10 A` for a fuse's rating, `F1:2` for a point.
"""

from __future__ import annotations

import functools
import json
import re
from collections.abc import Mapping

from loomwright.circuit.exchange.wire_list import gauge_area_mm2
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.reader.colours import COLOURS
from loomwright.circuit.reader.nodes import Entry, Items, Map, Node, Text, parse_yaml
from loomwright.circuit.reader.problems import Problems
from loomwright.errors import FileProblemsError, QuantityError
from loomwright.units import parse_quantity

__all__ = [
    "flow_text", "guessed_kind", "kind_hint", "map_cell", "map_text", "part_of", "scalar",
    "values_text", "wire_cell",
]

_PLAIN = re.compile(r"[\w+(./°µΩ²][\w+()./ °µΩ²%*^'-]*")
_BARE = re.compile(r"[-+]?\d+(?:[.,]\d*)?|[-+]?[.,]\d+")
_BLANKS = {"", "~", "null", "unknown"}
_CODES = {word: code for code, word in COLOURS.items()}
_UNIT = re.compile(r"in (\S+)")
_QUANTITY = re.compile(r"[-+]?[\d.,]+\s*([^\W\d_][\w²]*|Ω)?")
# First letters of names as drawings of vehicles and IEC 81346-2 (from memory) have them.
_LETTERS = (
    ("BAT", "battery"), ("SP", "splice"), ("ECU", "controller"), ("ALT", "alternator"),
    ("CB", "circuit breaker"), ("FL", "fusible link"), ("F", "fuse"), ("S", "switch"),
    ("K", "relay"), ("H", "lamp"), ("L", "lamp"), ("M", "motor"), ("Y", "solenoid"),
    ("X", "connector"), ("E", "earth"), ("GND", "earth"), ("D", "diode"), ("V", "diode"),
    ("R", "resistor"), ("C", "capacitor"), ("B", "sensor"), ("G", "battery"), ("P", "horn"),
    ("A", "controller"), ("T", "dc-dc converter"),
)


def scalar(text: str) -> str:
    """Return a text as YAML: plain where that is safe inside brackets, else in quotes."""
    bare = " ".join(text.split())
    if _is_quoted(bare) or (_PLAIN.fullmatch(bare) and not bare.endswith(":")):
        return bare
    return json.dumps(bare, ensure_ascii=False) if bare else ""


def _is_quoted(text: str) -> bool:
    if len(text) < 2 or text[0] != '"' or text[-1] != '"':
        return False
    try:
        return isinstance(json.loads(text), str)
    except ValueError:
        return False


def flow_text(node: Node, *, top: bool = False) -> str:
    """Return a node as one line of YAML; a text at the `top` stays as a person reads it."""
    if isinstance(node, Map):
        return "{" + map_cell(node.entries) + "}"
    if isinstance(node, Items):
        return "[" + ", ".join(flow_text(item) for item in node.items) + "]"
    if node.quoted and node.value.lower() in _BLANKS:
        return json.dumps(node.value)
    return node.value if top else scalar(node.value)


def map_cell(entries: Mapping[str, Entry], without: frozenset[str] = frozenset()) -> str:
    """Return the entries of a mapping as `key: value, key: value`."""
    return ", ".join(f"{scalar(name)}: {flow_text(entry.value) or 'unknown'}"
                     for name, entry in entries.items() if name not in without)


def map_text(cell: str) -> tuple[str, str]:
    """Return a `key: value` cell as it can stand between braces, and what is wrong with it."""
    bare = " ".join(cell.split())
    problems = Problems("cell")
    try:
        node = parse_yaml("{" + bare + "}", problems)
    except FileProblemsError as error:
        return "", f"'{bare}' cannot be read here. {error.problems[0].fix}"
    if not isinstance(node, Map) or (flow_text(node) == "{}" and bare):
        return "", f"'{bare}' is not 'key: value'."
    lone = [name for name, entry in node.entries.items()
            if isinstance(entry.value, Text) and entry.value.blank and f"{name}:" not in bare]
    if lone:
        return "", f"'{lone[0]}' has no value. Write '{lone[0]}: yes', with commas between."
    return map_cell(node.entries), ""


def values_text(kind: str, cell: str) -> tuple[str, str]:
    """Return a part's values as they can stand between braces, and what is wrong with them.

    What stands without its key is a quantity of the kind's key in that unit, or a switch's rule.
    """
    done = []
    for piece in _pieces(cell):
        known = re.match(r"[^:{\[]+:(\s|$)", piece)
        key = "" if known else _key_for(kind, piece)
        done.append(f"{key}: {scalar(piece)}" if key else piece)
    return map_text(", ".join(done)) if done else ("", "")


def _pieces(cell: str) -> list[str]:
    """Return a cell cut at the commas outside brackets; a decimal comma stays."""
    pieces, depth, start = [], 0, 0
    for at, sign in enumerate(cell):
        depth += (sign in "{[(") - (sign in "}])")
        decimal = re.match(r"\d,\d", cell[max(at - 1, 0): at + 2])
        if sign == "," and depth == 0 and not decimal:
            pieces.append(cell[start:at])
            start = at + 1
    return [one.strip() for one in [*pieces, cell[start:]] if one.strip()]


def _key_for(kind: str, piece: str) -> str:
    """Return the key that a bare value of a kind means, or ''."""
    keys = _keys(kind)
    found = _QUANTITY.fullmatch(piece)
    if found and found[1]:
        for key, unit in keys.items():
            try:
                parse_quantity(piece, unit)
            except QuantityError:
                continue
            return key
    if not found and kind in {"switch", "proximity switch"} and ":" not in piece:
        return "closed when"
    if found and not found[1] and kind == "connector":
        return "ways"
    return ""


@functools.lru_cache(maxsize=128)  # a model's schema takes a millisecond, a circuit has many lamps
def _keys(kind: str) -> Mapping[str, str]:
    """Return the keys of a kind that take a quantity, each with its unit, the usual one first."""
    if kind not in KINDS:
        return {}
    found = {}
    for key, schema in KINDS[kind].model.model_json_schema(by_alias=True)["properties"].items():
        for option in (schema, *schema.get("anyOf", ())):
            unit = _UNIT.fullmatch(option.get("description", ""))
            if unit and key != "fit":
                found[key] = unit[1]
    return found


def kind_hint(kind: str) -> str:
    """Return what a kind's values may be, for somebody who fills them in."""
    if kind in {"switch", "proximity switch"}:
        return "closed when: a word of the states"
    if kind == "connector":
        return "ways: 4"
    if kind == "controller":
        return "supply: 1, earth: 2, inputs: {...}, outputs: {...}"
    return ", ".join(f"{key} ({unit})" for key, unit in list(_keys(kind).items())[:2])


def wire_cell(column: str, typed: str) -> str:
    """Return a wire's cell as the file has it; what cannot be read stays as typed."""
    bare = " ".join(typed.split())
    if bare.lower() in {*_BLANKS, "?", "-"}:
        return ""
    if column in {"from", "to"}:
        return re.sub(r"\s*[:.]\s*", ".", bare, count=1)
    if column == "area":
        gauge = gauge_area_mm2(bare)
        return f"{gauge:.3g} mm2" if gauge else _sized(bare, "mm2")
    if column == "length":
        return _sized(bare, "m")
    if column == "colour":
        words = re.split(r"[/\-+]|\s+", bare)
        return "/".join(_CODES.get(word.lower(), word.upper()) for word in words if word)
    return bare


def _sized(bare: str, unit: str) -> str:
    """Return a size with a decimal point, and with the unit of its heading where it has none."""
    shown = bare.replace("²", "2").replace(",", ".")
    return f"{shown} {unit}" if _BARE.fullmatch(bare) else shown


def part_of(end: str) -> tuple[str, str]:
    """Return the part and the pin of a wire's end."""
    part, _, pin = wire_cell("from", end).partition(".")
    return part, pin


def guessed_kind(name: str, pins: frozenset[str]) -> str:
    """Return the likeliest kind of a part by the pins that wires go to and its name's letters."""
    if pins & {"30", "85", "86", "87", "87a"}:
        return "relay"
    if pins & {"B+", "D+"}:
        return "alternator"
    if any(re.fullmatch(r"\d+[ab]", pin) for pin in pins):
        return "connector"
    if pins & {"+", "-"}:
        return "sensor" if "S" in pins else "battery"
    letters = re.match(r"[A-Za-z]*", name)
    upper = letters[0].upper() if letters else ""
    return next((kind for start, kind in _LETTERS if upper.startswith(start)), "")
