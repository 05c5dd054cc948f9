"""Pairing codes: good once, for a while, and not to be guessed."""

from __future__ import annotations

import pytest

from loomwright.errors import SignInError, TooManyTriesError
from loomwright.service.pairing import CODE_LIFE_S, TRIES_ALL, TRIES_EACH, WINDOW_S, Pairing


class Clock:
    """Seconds that a test moves."""

    now = 0.0

    def __call__(self) -> float:
        return self.now


def test_a_code_is_good_once() -> None:
    pairing = Pairing()
    code = pairing.issue()
    pairing.redeem(code.lower().replace("-", " "), "10.0.0.2")
    with pytest.raises(SignInError):
        pairing.redeem(code, "10.0.0.2")


def test_a_code_gets_old() -> None:
    clock = Clock()
    pairing = Pairing(clock)
    code = pairing.issue()
    clock.now = CODE_LIFE_S + 1
    with pytest.raises(SignInError):
        pairing.redeem(code, "10.0.0.2")


def test_codes_differ_and_have_no_look_alikes() -> None:
    pairing = Pairing()
    codes = {pairing.issue() for _ in range(200)}
    assert len(codes) == 200
    assert not set("".join(codes)) & set("IO01")


def test_one_address_is_stopped_without_stopping_others() -> None:
    clock = Clock()
    pairing = Pairing(clock)
    for _ in range(TRIES_EACH):
        with pytest.raises(SignInError):
            pairing.redeem("AAAA-AAAA", "10.0.0.66")
    code = pairing.issue()
    with pytest.raises(TooManyTriesError):
        pairing.redeem(code, "10.0.0.66")
    pairing.redeem(code, "10.0.0.2")
    clock.now = WINDOW_S + 1
    pairing.redeem(pairing.issue(), "10.0.0.66")


def test_many_addresses_together_are_stopped() -> None:
    pairing = Pairing()
    for number in range(TRIES_ALL):
        with pytest.raises(SignInError):
            pairing.redeem("AAAA-AAAA", f"10.0.0.{number}")
    with pytest.raises(TooManyTriesError):
        pairing.redeem(pairing.issue(), "10.0.1.1")
