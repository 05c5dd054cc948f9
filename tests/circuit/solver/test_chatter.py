"""Logic that goes round in circles is told from logic that takes long to come to rest."""

from __future__ import annotations

import itertools

import numpy as np

from loomwright.circuit.chatter import Wandering

_ALL = np.ones(1, np.bool_)


def walked(patterns: list[tuple[bool, ...]]) -> list[bool]:
    """Return after each step whether logic that goes through these flags chatters."""
    flags = [np.array(one, np.bool_)[:, None] for one in patterns]
    wandering = Wandering(flags[0])
    found = []
    for before, after in itertools.pairwise(flags):
        wandering.move(before, after, _ALL)
        found.append(bool(wandering.chatters[0]))
    return found


def test_a_flag_that_goes_to_and_fro_chatters_once_it_has_come_back_seven_times() -> None:
    # the first step meets something new; the seven after it come back
    assert walked([(False,), (True,)] * 5) == [False] * 7 + [True] * 2


def test_what_meets_something_new_in_between_has_not_begun_to_chatter() -> None:
    to_and_fro = [(False, False), (True, False)] * 3
    assert not any(walked([*to_and_fro, (True, True), *to_and_fro]))


def test_more_than_sixty_changes_are_chatter_though_nothing_comes_back() -> None:
    counting = [tuple(bool(number >> bit & 1) for bit in range(7)) for number in range(64)]
    assert walked(counting) == [False] * 60 + [True] * 3


def test_a_variant_that_stands_still_neither_returns_nor_changes() -> None:
    flags = np.zeros((1, 2), np.bool_)
    wandering = Wandering(flags)
    for turn in range(9):
        following = flags.copy()
        following[0, 1] = turn % 2 == 0
        wandering.move(flags, following, np.array([False, True]))
        flags = following
    assert wandering.chatters.tolist() == [False, True]
    wandering.keep(np.array([0]))
    assert wandering.returns.tolist() == [0]
