"""The smallest changes of a rule against brute force over all its names."""

from __future__ import annotations

import itertools

import hypothesis.strategies as st
import pytest
from hypothesis import given

from loomwright.circuit.expressions import Expression, parse_expression
from loomwright.circuit.logic import Change, expanded, smallest_changes

NAMES = ["a", "b", "c", "d", "e"]
POSITIONS = ["park", "drive", "neutral"]
LEAVES = st.sampled_from([Expression("name", name=name) for name in NAMES])
GEARS = st.sampled_from([Expression("name", name="gear", value=value) for value in POSITIONS])


def rules_over(leaves: st.SearchStrategy[Expression]) -> st.SearchStrategy[Expression]:
    return st.recursive(
        leaves,
        lambda inner: st.one_of(
            inner.map(lambda item: Expression("not", (item,))),
            st.tuples(st.sampled_from(["and", "or"]), st.lists(inner, min_size=2, max_size=3)).map(
                lambda pair: Expression(pair[0], tuple(pair[1]))
            ),
        ),
        max_leaves=9,
    )


def brute_force(rule: Expression, now: dict[str, bool]) -> set[frozenset[str]]:
    """Return all smallest sets of names whose flipping makes the rule hold."""
    names = rule.names()
    good = []
    for size in range(len(names) + 1):
        for flips in itertools.combinations(names, size):
            after = {name: value != (name in flips) for name, value in now.items()}
            if rule.evaluate(lambda name, value, after=after: after[name]):
                good.append(frozenset(flips))
    return {one for one in good if not any(other < one for other in good)}


@given(rules_over(LEAVES), st.lists(st.booleans(), min_size=5, max_size=5))
def test_smallest_changes_are_those_of_brute_force(rule: Expression, bits: list[bool]):
    now = dict(zip(NAMES, bits, strict=True))
    found = smallest_changes(rule, lambda name, value: now[name])
    assert {frozenset(item.name for item in one) for one in found} == brute_force(rule, now)
    for changes in found:
        after = {**now, **{item.name: item.to for item in changes}}
        assert rule.evaluate(lambda name, value, after=after: after[name])


@given(rules_over(st.one_of(LEAVES, GEARS)), st.lists(st.booleans(), min_size=5, max_size=5),
       st.sampled_from(POSITIONS))
def test_changes_with_positions_make_the_rule_hold(rule: Expression, bits: list[bool], gear: str):
    now = dict(zip(NAMES, bits, strict=True))

    def truth(names: dict[str, bool], position: str, name: str, value: str) -> bool:
        return position == value if name == "gear" else names[name]

    found = smallest_changes(rule, lambda name, value: truth(now, gear, name, value))
    for changes in found:
        after = {**now, **{item.name: item.to for item in changes if item.name != "gear"}}
        moved = [item.value for item in changes if item.name == "gear" and item.to]
        left = {item.value for item in changes if item.name == "gear" and not item.to}
        assert len(moved) <= 1
        position = moved[0] if moved else "elsewhere" if gear in left else gear
        assert rule.evaluate(lambda n, v, a=after, p=position: truth(a, p, n, v))
    holds = rule.evaluate(lambda name, value: truth(now, gear, name, value))
    assert (found == (frozenset(),)) == holds


@given(rules_over(LEAVES), st.lists(st.booleans(), min_size=5, max_size=5),
       st.sampled_from(NAMES))
def test_fixed_names_are_never_changed(rule: Expression, bits: list[bool], fixed: str):
    now = dict(zip(NAMES, bits, strict=True))
    found = smallest_changes(rule, lambda name, value: now[name], [fixed])
    names = {item.name for one in found for item in one}
    assert fixed not in names
    every = brute_force(rule, now)
    assert {frozenset(item.name for item in one) for one in found} == {
        one for one in every if fixed not in one
    }


def test_all_ways_of_an_or():
    rule = parse_expression("shut and (request or test) and not moving")
    now = {"shut": True, "request": False, "test": False, "moving": True}
    found = smallest_changes(rule, lambda name, value: now[name])
    assert found == (
        frozenset({Change("moving", to=False), Change("request")}),
        frozenset({Change("moving", to=False), Change("test")}),
    )


def test_a_rule_that_never_holds_has_no_changes():
    rule = parse_expression("a and not a")
    assert smallest_changes(rule, lambda name, value: False) == ()


def test_changing_to_a_position_is_one_change():
    rule = parse_expression("gear is neutral and not gear is drive")
    found = smallest_changes(rule, lambda name, value: value == "drive")
    assert found == (frozenset({Change("gear", "neutral")}),)
    assert next(iter(found[0])).text() == "gear is neutral"


def test_outputs_in_rules_are_replaced_by_their_own():
    rules = {"lock": parse_expression("shut and run"), "run": parse_expression("not stop or lock")}
    rule = expanded(parse_expression("not lock"), rules)
    assert str(rule) == "not (shut and (not stop or lock))"
    assert str(expanded(parse_expression("run is off"), {"run": parse_expression("x")})) == "not x"


@pytest.mark.parametrize("count", [3, 14])
def test_a_long_rule_is_answered_with_the_shortest_sets(count: int):
    text = " and ".join(f"(a{n} or b{n})" for n in range(count))
    found = smallest_changes(parse_expression(text), lambda name, value: False)
    assert len(found) == (8 if count == 3 else 2000)
    assert all(len(one) == count for one in found)
