"""Boolean expressions over plain words: `latched and request and not moving`."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from loomwright.errors import UsageError

__all__ = ["Expression", "ExpressionError", "parse_expression"]

_TOKEN = re.compile(r"\s*(?:(\()|(\))|([^()\s]+))")
_WORDS = {"and", "or", "not"}


class ExpressionError(UsageError):
    """A rule that cannot be read, with the column (from 1) where it goes wrong."""

    code = "expression"

    def __init__(self, what: str, column: int, fix: str) -> None:
        self.what = what
        self.column = column
        super().__init__(what, next_step=fix)


@dataclass(frozen=True, slots=True)
class Expression:
    """A parsed rule: `op` is name, not, and, or, true; a name may have `value` (`gear is low`)."""

    op: str
    items: tuple[Expression, ...] = ()
    name: str = ""
    value: str = ""

    def names(self) -> tuple[str, ...]:
        """Return every name used, once each, in order."""
        if self.op == "name":
            return (self.name,)
        return tuple(dict.fromkeys(name for item in self.items for name in item.names()))

    def evaluate(self, truth: Callable[[str, str], bool]) -> bool:
        """Return the truth of the rule; `truth(name, value)` gives each name's."""
        if self.op == "name":
            return truth(self.name, self.value)
        if self.op == "not":
            return not self.items[0].evaluate(truth)
        if self.op == "and":
            return all(item.evaluate(truth) for item in self.items)
        if self.op == "or":
            return any(item.evaluate(truth) for item in self.items)
        return True

    def __str__(self) -> str:
        if self.op == "name":
            return f"{self.name} is {self.value}" if self.value else self.name
        if self.op == "not":
            inner = str(self.items[0])
            return f"not {inner}" if self.items[0].op == "name" else f"not ({inner})"
        if self.op in {"and", "or"}:
            shown = [f"({i})" if i.op in {"and", "or"} else str(i) for i in self.items]
            return f" {self.op} ".join(shown)
        return "always"


def parse_expression(text: str) -> Expression:
    """Return the rule a text states; words that are not and, or, not and brackets form names.

    Raises
        ExpressionError: empty, unbalanced brackets, or an operator without its operand
    """
    tokens = _tokens(text)
    if not tokens:
        raise ExpressionError("The rule is empty.", 1, "Write a condition such as 'ignition'.")
    expression, rest = _either(tokens)
    if rest:
        word, column = rest[0]
        raise ExpressionError(f"'{word}' is not expected here.", column, "Check the brackets.")
    return expression


Tokens = list[tuple[str, int]]


def _tokens(text: str) -> Tokens:
    """Split into words and brackets with their columns; consecutive plain words join to a name."""
    found: Tokens = []
    for match in _TOKEN.finditer(text):
        word = match[1] or match[2] or match[3]
        column = match.start(match.lastindex or 0) + 1
        plain = word not in _WORDS and word not in "()"
        if plain and found and found[-1][0] not in _WORDS and found[-1][0] not in "()":
            found[-1] = (f"{found[-1][0]} {word}", found[-1][1])
        else:
            found.append((word, column))
    return found


def _joined(tokens: Tokens, word: str, below: Callable[[Tokens], tuple[Expression, Tokens]]
            ) -> tuple[Expression, Tokens]:
    """Read one or more operands joined by `word`."""
    first, rest = below(tokens)
    items = [first]
    while rest and rest[0][0] == word:
        item, rest = below(rest[1:] or [("", rest[0][1] + len(word))])
        items.append(item)
    return (Expression(word, tuple(items)) if len(items) > 1 else first), rest


def _either(tokens: Tokens) -> tuple[Expression, Tokens]:
    return _joined(tokens, "or", lambda rest: _joined(rest, "and", _single))


def _single(tokens: Tokens) -> tuple[Expression, Tokens]:
    """Read a name, a negation or a bracketed rule."""
    if not tokens or tokens[0][0] in {"", ")", "and", "or"}:
        column = tokens[0][1] if tokens else 1
        raise ExpressionError("A condition is missing.", column, "Write a name after and, or, not.")
    word, column = tokens[0]
    if word == "not":
        inner, rest = _single(tokens[1:] or [("", column + 3)])
        return Expression("not", (inner,)), rest
    if word == "(":
        inner, rest = _either(tokens[1:] or [("", column + 1)])
        if not rest or rest[0][0] != ")":
            raise ExpressionError("A bracket is not closed.", column, "Add ')'.")
        return inner, rest[1:]
    name, _, value = word.partition(" is ")
    return Expression("name", name=name, value=value), tokens[1:]
