"""Rules in plain words: precedence, names of several words, and where a bad rule goes wrong."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomwright.circuit.expressions import Expression, ExpressionError, parse_expression


def holds(text: str, *true: str) -> bool:
    """Return the truth of a rule when exactly the given conditions hold."""
    shown = {(name, value) for name, _, value in (item.partition(" is ") for item in true)}
    return parse_expression(text).evaluate(lambda name, value: (name, value) in shown)


@pytest.mark.parametrize(
    ("text", "true", "expected"),
    [
        ("latched", ["latched"], True),
        ("latched", [], False),
        ("not latched", [], True),
        ("not not latched", ["latched"], True),
        ("a and b", ["a"], False),
        ("a and b", ["a", "b"], True),
        ("a or b", ["b"], True),
        ("a or b and c", ["a"], True),
        ("a or b and c", ["b"], False),
        ("(a or b) and c", ["a"], False),
        ("(a or b) and c", ["b", "c"], True),
        ("not a and b", ["b"], True),
        ("not (a and b)", ["a"], True),
        ("not (a or b)", ["a"], False),
        ("latched and request and not moving", ["latched", "request"], True),
        ("latched and request and not moving", ["latched", "request", "moving"], False),
        ("tailgate shut and request", ["tailgate shut", "request"], True),
        ("gear is neutral", ["gear is neutral"], True),
        ("gear is neutral", ["gear is first"], False),
        ("gear is neutral or clutch down", ["clutch down"], True),
    ],
)
def test_truth(text: str, true: list[str], expected: bool) -> None:
    assert holds(text, *true) is expected


def test_names_are_given_once_in_order() -> None:
    rule = parse_expression("b and (tailgate shut or not b) and gear is neutral")
    assert rule.names() == ("b", "tailgate shut", "gear")


def test_empty_rule_of_a_controller_always_holds() -> None:
    always = Expression("true")
    assert always.evaluate(lambda name, value: False)
    assert str(always) == "always"
    assert always.names() == ()


@pytest.mark.parametrize(
    ("text", "column", "what"),
    [
        ("", 1, "The rule is empty."),
        ("   ", 1, "The rule is empty."),
        ("and a", 1, "A condition is missing."),
        ("a and", 6, "A condition is missing."),
        ("a or or b", 6, "A condition is missing."),
        ("not", 4, "A condition is missing."),
        ("(a and b", 1, "A bracket is not closed."),
        ("a)", 2, "')' is not expected here."),
        ("a (b)", 3, "'(' is not expected here."),
        ("()", 2, "A condition is missing."),
        ("(", 2, "A condition is missing."),
        ("a not b", 3, "'not' is not expected here."),
    ],
)
def test_bad_rule_says_where(text: str, column: int, what: str) -> None:
    with pytest.raises(ExpressionError) as caught:
        parse_expression(text)
    assert caught.value.what == what
    assert caught.value.column == column
    assert caught.value.next_step


NAMES = st.sampled_from(["a", "b", "tailgate shut", "gear is neutral"])
RULES = st.recursive(
    NAMES,
    lambda inner: st.one_of(
        inner.map(lambda text: f"not ({text})"),
        st.tuples(inner, inner).map(lambda two: f"({two[0]}) and ({two[1]})"),
        st.tuples(inner, inner).map(lambda two: f"({two[0]}) or ({two[1]})"),
    ),
    max_leaves=8,
)


@pytest.mark.property
@given(RULES, st.sets(NAMES))
def test_printed_rule_means_the_same(text: str, true: set[str]) -> None:
    assert holds(str(parse_expression(text)), *true) == holds(text, *true)


@pytest.mark.property
@given(st.lists(st.sampled_from(["a", "and", "or", "not", "(", ")", "is", " "]), max_size=10))
def test_any_words_give_a_rule_or_its_error(words: list[str]) -> None:
    text = " ".join(words)
    try:
        columns = {1} if parse_expression(text).names() else set()
    except ExpressionError as error:
        columns = {error.column}
    assert len(columns) == 1
    assert 1 <= columns.pop() <= len(text) + 1
