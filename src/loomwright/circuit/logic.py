"""Which names of a rule must change so that it holds: every smallest set of them.

Pure functions over expressions. A rule is expanded into terms (a disjunctive normal form with
absorption); each term is one way to make it true, and the names in it that stand otherwise are the
changes it needs. Those changes with none to spare are the smallest sets.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from loomwright.circuit.expressions import Expression

__all__ = ["Change", "expanded", "smallest_changes"]

_MOST_TERMS = 2000  # a longer rule keeps the terms that need the fewest changes
_DEEPEST = 6  # outputs that depend on outputs that depend on ...

Truth = Callable[[str, str], bool]


@dataclass(frozen=True, slots=True, order=True)
class Change:
    """A name (with a position where the rule names one) that must come to be so, or not so."""

    name: str
    value: str = ""
    to: bool = True

    def text(self) -> str:
        """Return the change in words: `shut on`, `gear is neutral`, `gear not neutral`."""
        if self.value:
            return f"{self.name} {'is' if self.to else 'not'} {self.value}"
        return f"{self.name} {'on' if self.to else 'off'}"


Term = frozenset[Change]


def expanded(rule: Expression, rules: Mapping[str, Expression], depth: int = 0) -> Expression:
    """Return a rule with the outputs it uses replaced by their own rules.

    An output that in the end depends on itself (a latch) stays a name.
    """
    if rule.op != "name":
        items = tuple(expanded(item, rules, depth) for item in rule.items)
        return Expression(rule.op, items)
    own = rules.get(rule.name)
    if own is None or depth >= _DEEPEST:
        return rule
    others = {name: item for name, item in rules.items() if name != rule.name}
    inner = expanded(own, others, depth + 1)
    off = rule.value.lower() in {"off", "no", "false"}
    return Expression("not", (inner,)) if off else inner


def smallest_changes(rule: Expression, truth: Truth, fixed: Iterable[str] = ()
                     ) -> tuple[frozenset[Change], ...]:
    """Return all smallest sets of changes after which a rule holds.

    Parameters
        truth: the present truth of each name, with its position where the rule names one
        fixed: names that cannot be changed
    Returns
        tuple: the sets, shortest first; the empty set alone where the rule holds already, none
        where no change of names makes it hold
    """
    unchangeable = frozenset(fixed)
    found: set[frozenset[Change]] = set()
    for term in _terms(rule, True, truth):
        changes = _needed(term, truth)
        if not any(change.name in unchangeable for change in changes):
            found.add(changes)
    least = [one for one in found if not any(other < one for other in found)]
    return tuple(sorted(least, key=lambda one: (len(one), sorted(one))))


def _needed(term: Term, truth: Truth) -> frozenset[Change]:
    """Return what a term changes; leaving a position follows from taking another one."""
    changes = {item for item in term if truth(item.name, item.value) != item.to}
    taken = {item.name for item in changes if item.value and item.to}
    return frozenset(item for item in changes
                     if item.to or not item.value or item.name not in taken)


def _terms(rule: Expression, wanted: bool, truth: Truth) -> set[Term]:
    """Return terms of which at least one must hold for the rule to be as wanted."""
    if rule.op == "name":
        return {frozenset({Change(rule.name, rule.value, wanted)})}
    if rule.op == "not":
        return _terms(rule.items[0], not wanted, truth)
    if rule.op not in {"and", "or"}:  # always
        return {frozenset()} if wanted else set()
    parts = [_terms(item, wanted, truth) for item in rule.items]
    if (rule.op == "or") == wanted:
        return _absorbed(set().union(*parts), truth)
    joined: set[Term] = {frozenset()}
    for part in parts:
        joined = _absorbed({one | other for one in joined for other in part
                            if _possible(one | other)}, truth)
    return joined


def _possible(term: Term) -> bool:
    """Return whether no name is wanted both ways or in two positions at once."""
    wanted: dict[tuple[str, str], bool] = {}
    position: dict[str, str] = {}
    for item in term:
        if wanted.setdefault((item.name, item.value), item.to) != item.to:
            return False
        if item.value and item.to and position.setdefault(item.name, item.value) != item.value:
            return False
    return True


def _absorbed(terms: set[Term], truth: Truth) -> set[Term]:
    """Drop terms that hold another term; keep those with the fewest changes where too many."""
    if len(terms) > _MOST_TERMS:
        ranked = sorted(terms, key=lambda term: (len(_needed(term, truth)), sorted(term)))
        terms = set(ranked[:_MOST_TERMS])
    if len(terms) > 200:  # comparing all pairs would cost more than it saves
        return terms
    return {one for one in terms if not any(other < one for other in terms)}
