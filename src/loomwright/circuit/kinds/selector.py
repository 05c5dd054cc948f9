"""Selector: a switch of several positions, each of which joins its own pins."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping

from pydantic import Field

from loomwright.circuit.branches import Branch, FaultMode, Override
from loomwright.circuit.expressions import Expression
from loomwright.circuit.kinds.base import Kind, Ohms, PartModel, PinName, with_defaults
from loomwright.circuit.kinds.common import WORD_LIMIT
from loomwright.circuit.model import ParamValue, Part

__all__ = ["KIND", "position_of"]

_CONTACT_OHM = 0.010  # assumed
_BURNT_OHM = 1.0  # a high-resistance contact when no value is given; assumed
_BETWEEN = "\t"  # no pin and no position has a tab


class SelectorModel(PartModel):
    """Keys of a selector in the circuit file: each position lists the sets of pins it joins."""

    positions: dict[str, list[list[PinName]]] = Field(
        default_factory=lambda: {"off": [], "on": [["1", "2"]]}, min_length=1, max_length=40)
    reads: str = Field(default="", max_length=WORD_LIMIT)  # a state's word; '' is the part's name
    resistance: Ohms | None = None


def _pins(model: SelectorModel) -> tuple[str, ...]:
    pins = dict.fromkeys(itertools.chain.from_iterable(
        joined for sets in model.positions.values() for joined in sets))
    return tuple(pins) or ("1",)


def _joins(model: SelectorModel) -> Iterator[tuple[str, str, str]]:
    """Yield (pin, pin, position): the first pin of a set is joined to each of the others."""
    for position, sets in model.positions.items():
        for joined in sets:
            if len(set(joined)) < 2:
                raise ValueError(f"position '{position}' must join at least two pins in each list.")
            for other in dict.fromkeys(joined[1:]):
                yield joined[0], other, position


def _values(model: SelectorModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    values, assumed = with_defaults(
        {"resistance_ohm": model.resistance}, {"resistance_ohm": _CONTACT_OHM})
    joins = tuple(_BETWEEN.join(one) for one in _joins(model))
    pairs = dict.fromkeys(f"{one.split(_BETWEEN)[0]}-{one.split(_BETWEEN)[1]}" for one in joins)
    return {**values, "positions": tuple(model.positions), "joins": joins, "contacts": tuple(pairs),
            "word": " ".join(model.reads.split())}, assumed


def _texts(part: Part, key: str) -> tuple[str, ...]:
    found = part.params[key]
    assert isinstance(found, tuple)
    return tuple(str(item) for item in found)


def _word(part: Part) -> str:
    return str(part.params["word"] or part.id)


def position_of(part: Part, conditions: Mapping[str, str]) -> str:
    """Return the position a state sets a selector to; the first where it says nothing."""
    positions = _texts(part, "positions")
    given = conditions.get(_word(part), "").lower()
    return next((one for one in positions if one.lower() == given), positions[0])


def _rule(part: Part, wanted: list[str]) -> Expression:
    """Return the rule of being in one of some positions; the first is also where nothing is said.
    """
    names = {one: Expression("name", name=_word(part), value=one)
             for one in _texts(part, "positions")}
    first, *others = names
    found = [names[one] for one in wanted]
    if first in wanted:
        elsewhere = Expression("or", tuple(names[one] for one in others))
        found.append(Expression("not", (elsewhere,)))
    return Expression("or", tuple(found))


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    closed: dict[tuple[str, str], list[str]] = {}
    for one in _texts(part, "joins"):
        a, b, position = one.split(_BETWEEN)
        closed.setdefault((a, b), []).append(position)
    ohm = part.number("resistance_ohm")
    return tuple(
        Branch(f"{part.id}.{a}-{b}", f"{part.id}.{a}", f"{part.id}.{b}", ohm, spread="contact",
               gate=f"rule:{part.id}.{a}-{b}", when=_rule(part, positions))
        for (a, b), positions in closed.items())


def _metered(part: Part) -> tuple[tuple[str, str], ...]:
    pairs = dict.fromkeys(tuple(one.split(_BETWEEN)[:2]) for one in _texts(part, "joins"))
    return tuple((a, b) for a, b in pairs)


def _stuck(part: Part, item: str, ohms: float) -> tuple[Override, ...]:
    return tuple(
        Override(branch.id, "closed" if _closes(branch, part, item) else "open")
        for branch in _branches(part, 0.0))


def _closes(branch: Branch, part: Part, position: str) -> bool:
    assert branch.when is not None
    word = _word(part)
    return branch.when.evaluate(lambda name, value: name == word and value == position)


KIND = Kind(
    name="selector",
    model=SelectorModel,
    pins=_pins,
    values=_values,
    symbol="selector",
    default_price=40.0,
    fit_min=20.0,
    branches=_branches,
    metered=_metered,
    fault_modes=(
        FaultMode("contact-open", 0.015,
                  lambda part, item, ohms: (Override(f"{part.id}.{item}", "open"),),
                  items="contacts"),
        FaultMode("high-resistance", 0.015,
                  lambda part, item, ohms: (Override(f"{part.id}.{item}", "add", ohms),),
                  items="contacts", ohms=_BURNT_OHM, continuum=True),
        FaultMode("stuck-in", 0.003, _stuck, items="positions"),
    ),
)
