"""Reads the parts of a circuit file through the models of their kinds."""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from loomwright.circuit.expressions import ExpressionError, parse_expression
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.kinds.base import Kind, PartModel
from loomwright.circuit.model import Mark, Part
from loomwright.circuit.reader.controllers import check_controller
from loomwright.circuit.reader.fields import (
    as_text,
    good_id,
    note_glued,
    on_or_off,
    shape_of,
)
from loomwright.circuit.reader.nodes import Entry, Items, Map, Node, Text
from loomwright.circuit.reader.problems import Problems
from loomwright.errors import QuantityError, UsageError, nearest

__all__ = ["Parts", "read_parts"]

_LONGEST_RULE = 500  # a page of text; longer ones take the parser ever longer
_DEEPEST_RULE = 60  # each level costs the parser some stack
_LONGEST_VALUE = 200
_SEEN_TOO = {"relay", "controller"}  # beside loads: one that clicks, and one that lists
_OTHER_WORDS = {  # what else the trade says for a kind
    "ground": "earth", "bulb": "lamp", "light": "lamp", "led": "led lamp", "breaker":
    "circuit breaker", "plug": "connector", "socket": "connector", "junction": "splice",
    "coil": "solenoid", "valve": "solenoid", "pump": "motor", "fan": "motor", "button": "switch",
    "generator": "alternator", "ecu": "controller", "module": "controller", "ntc": "thermistor",
    "potentiometer": "sender",
}


@dataclass(frozen=True, slots=True)
class Parts:
    """The parts that could be read, and the kind of every declared id, even of the others."""

    good: Mapping[str, Part]
    declared: Mapping[str, str]


def read_parts(entries: Mapping[str, Entry], system_v: float, places: Mapping[str, object] | None,
               problems: Problems) -> Parts:
    """Return all parts of the file.

    Parameters
        system_v: system voltage [V], on which some defaults depend
        places: known place names, or None where the file has no `places`
    """
    good: dict[str, Part] = {}
    declared: dict[str, str] = {}
    for name, entry in entries.items():
        if problems.full:
            break
        declared[name] = ""
        if not good_id(entry.key, "part", problems):
            continue
        kind = _kind_of(name, entry, problems)
        if kind is None or not isinstance(entry.value, Map):
            continue
        declared[name] = kind.name
        if kind.name == "controller":
            check_controller(name, entry.value, problems)
        part = _part(name, entry.value, kind, system_v, problems)
        if part is not None:
            good[name] = part
            _check_places(entry.value, part, kind, places, problems)
    return Parts(good, declared)


def _kind_of(name: str, entry: Entry, problems: Problems) -> Kind | None:
    """Return the part's kind, or note why there is none."""
    node = entry.value
    if not isinstance(node, Map):
        if isinstance(node, Text) and note_glued(Entry(node, Text("", node.mark)), problems):
            return None
        problems.add(node.mark, f"{name} must be a mapping, not {shape_of(node)}.",
                     f"Write '{name}: {{kind: fuse, rating: 10 A}}'.")
        return None
    if [one for one in node.entries.values() if note_glued(one, problems)]:
        return None  # each is noted; what it was meant to say is not known
    if "kind" not in node.entries:
        problems.add(entry.key.mark, f"{name} has no kind.", "Add 'kind: fuse' or another kind.")
        return None
    value = node.entries["kind"].value
    before = len(problems)
    text = as_text(value, f"The kind of {name}", problems)
    if text in KINDS:
        return KINDS[text]
    if not text and len(problems) == before:
        problems.add(value.mark, f"{name} has no kind.", "Add 'kind: fuse' or another kind.")
    elif len(problems) == before:
        what = f"There is no kind '{text}' (part {name})."
        if (meant := _OTHER_WORDS.get(text.lower())) is not None:
            problems.add(value.mark, what, f"Write 'kind: {meant}'.")
        else:
            problems.unknown(value.mark, what, text, KINDS)
    return None


def _part(name: str, node: Map, kind: Kind, system_v: float, problems: Problems) -> Part | None:
    """Return one part, or note everything wrong with it."""
    if not _rules_read(name, node, problems):
        return None
    try:
        model = kind.model.model_validate(_plain(node))
        pins = kind.pins(model)
        params, assumed = kind.values(model, system_v)
    except ValidationError as error:
        _report(name, node, kind, error, problems)
        return None
    except UsageError as error:
        problems.add(node.mark, f"{name}: {error.message}", error.next_step)
        return None
    except ValueError as error:
        problems.add(node.mark, f"{name}: {error}", "")
        return None
    price = model.price if "price" in model.model_fields_set else kind.default_price
    fit_min = model.fit if model.fit is not None else kind.fit_min
    numbers = {**params, "price": price, "fit": fit_min}
    wild = [key for key, value in numbers.items()
            if isinstance(value, float) and not math.isfinite(value)]
    if wild:
        problems.add(node.mark, f"{name}: '{wild[0]}' is not a usable number.", "Write a "
                     "number of ordinary size.")
        return None
    return Part(id=name, kind=kind.name, pins=pins, params=params, assumed=assumed,
                place=" ".join(model.place.split()), label=model.label, price=price,
                fit_min=fit_min, mark=node.mark, seen_from=tuple(dict.fromkeys(
                    " ".join(place.split()) for place in model.seen_from if place.strip())))


def _check_places(node: Map, part: Part, kind: Kind, places: Mapping[str, object] | None,
                  problems: Problems) -> None:
    """Note places that the file does not have, and what nobody sees working."""
    named = [("place", part.place), *(("seen from", place) for place in part.seen_from)]
    for key, place in named:
        if place and places is not None and place not in places:
            problems.unknown(_mark_of(node.entries[key].value, place),
                             f"There is no place '{place}'.", place, list(places))
    if part.seen_from and not (kind.load or kind.name in _SEEN_TOO):
        problems.add(node.entries["seen from"].key.mark, f"Nothing of a {kind.name} ({part.id}) "
                     "is seen working.", "Say it of the load, relay or controller.")


def _mark_of(node: Node, text: str) -> Mark:
    """Return where a text stands: in a list, at its item."""
    items = node.items if isinstance(node, Items) else ()
    return next((item.mark for item in items
                 if isinstance(item, Text) and " ".join(item.value.split()) == text), node.mark)


def _rules_read(name: str, node: Map, problems: Problems) -> bool:
    """Return whether every rule below a part parses and no text is absurdly long."""
    fine = True
    for key, entry in node.entries.items():
        value = entry.value
        if isinstance(value, Map):
            fine = _rules_read(f"{name}.{key}", value, problems) and fine
        elif isinstance(value, Text) and _is_rule(key):
            fine = _rule_reads(f"{name} '{key}'", value, problems) and fine
        elif isinstance(value, Text) and len(value.value) > _LONGEST_VALUE:
            problems.add(value.mark, f"{name} '{key}' is longer than {_LONGEST_VALUE} characters.",
                         "Shorten it.")
            fine = False
    return fine


def _rule_reads(what: str, text: Text, problems: Problems) -> bool:
    nested = text.value.count("(") + text.value.split().count("not")
    if nested > _DEEPEST_RULE:
        problems.add(text.mark, f"{what}: the rule has more than {_DEEPEST_RULE} brackets and "
                     "nots.", "Split it: let one output use another.")
        return False
    if len(text.value) > _LONGEST_RULE:
        problems.add(text.mark, f"{what}: the rule is longer than {_LONGEST_RULE} characters.",
                     "Split it: let one output use another.")
        return False
    try:
        if not text.blank:
            parse_expression(text.value)
    except ExpressionError as error:
        column = text.mark.column + error.column - 1 + text.quoted
        problems.add(Mark(text.mark.line, column), f"{what}: {error.message}", error.next_step)
        return False
    return True


def _plain(node: Node) -> Any:
    """Return a tree as dicts, lists and texts; what is not known is left out."""
    if isinstance(node, Map):
        return {key: _plain_rule(entry.value) if _is_rule(key) else _plain(entry.value)
                for key, entry in node.entries.items()
                if not (isinstance(entry.value, Text) and entry.value.blank)}
    if isinstance(node, Items):
        return [_plain(item) for item in node.items]
    return node.value


def _is_rule(key: str) -> bool:
    return key == "when" or key.endswith(" when")


def _plain_rule(node: Node) -> Any:
    """Return a rule; one that always or never holds becomes true or false."""
    word = node.value.lower() if isinstance(node, Text) and not node.quoted else ""
    truth = {"always": True, "never": False}.get(word)
    if truth is not None or on_or_off(word):
        return truth if truth is not None else on_or_off(word) == "on"
    return _plain(node)


def _report(name: str, node: Map, kind: Kind, error: ValidationError, problems: Problems) -> None:
    """Turn what the model refused into problems with their place in the file."""
    refused = error.errors(include_url=False)
    strangers = [str(found["loc"][-1]) for found in refused if found["type"] == "extra_forbidden"]
    for found in refused:
        path = tuple(found["loc"])
        where, entry = _find(node, path)
        what, fix = _words(found)
        key = str(path[-1]) if path else ""
        shown = ".".join(str(step) for step in path)
        if found["type"] == "extra_forbidden":
            mark = entry.key.mark if entry else where
            owner = f"{kind.name} {name}" + (f", {'.'.join(map(str, path[:-1]))}" if path[1:]
                                             else "")
            problems.unknown(mark, f"'{key}' is not a key of {owner}.", key,
                             _known_keys(kind.model, path[:-1]))
        elif found["type"] == "missing":
            if any(nearest(stranger, [key]) for stranger in strangers):
                continue  # the mistyped key is reported, with this one as its fix
            problems.add(where, f"{name} ({kind.name}) needs '{shown}'.", "Add it.")
        else:
            label = f"{name} '{shown}'" if shown else name
            problems.add(where, f"{label}: {what}", fix)


def _find(node: Node, path: Sequence[str | int]) -> tuple[Mark, Entry | None]:
    """Follow a path of keys as far as it goes; steps that are not in the file are skipped."""
    mark, entry = node.mark, None
    for step in path:
        if isinstance(node, Map) and str(step) in node.entries:
            entry = node.entries[str(step)]
            node = entry.value
        elif isinstance(node, Items) and isinstance(step, int) and step < len(node.items):
            node, entry = node.items[step], None
        else:
            entry = None
            continue
        mark = node.mark
    return mark, entry


def _words(found: Any) -> tuple[str, str]:
    """Return what is wrong and the fix for one refusal of a model."""
    given = str(found.get("input", ""))[:60]
    context = found.get("ctx") or {}
    if found["type"] == "value_error":
        error = context.get("error")
        cause = error.__cause__ if error is not None else None
        if isinstance(cause, QuantityError):
            return cause.message, cause.next_step
        return str(error), ""
    if found["type"] in {"literal_error", "enum"}:
        return f"'{given}' is not one of the choices.", f"Use {context.get('expected', '')}."
    message = str(found["msg"]).replace("Input should be ", "should be ")
    return f"'{given}' is not right here.", f"It {message}."


@functools.cache
def _schema(model: type[PartModel]) -> Mapping[str, Any]:
    return model.model_json_schema(by_alias=True)


def _known_keys(model: type[PartModel], path: Sequence[str | int]) -> list[str]:
    """Return the keys a model knows at a path, from its schema."""
    whole = _schema(model)
    here: Any = whole
    for step in path:
        here = _resolved(here, whole)
        below = here.get("properties", {}).get(str(step)) or here.get("additionalProperties")
        below = below or here.get("items")
        if not isinstance(below, dict):
            return []
        here = below
    return list(_resolved(here, whole).get("properties", {}))


def _resolved(schema: Any, whole: Mapping[str, Any]) -> Any:
    """Follow a reference, or the first alternative that is a mapping."""
    for _ in range(4):
        options = schema.get("anyOf") or schema.get("oneOf") or []
        if "$ref" in schema:
            schema = whole["$defs"][schema["$ref"].rsplit("/", 1)[-1]]
        elif options:
            schema = next((o for o in options if "$ref" in o or "properties" in o), options[0])
        else:
            return schema
    return schema
