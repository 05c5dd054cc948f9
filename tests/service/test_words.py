"""Values in words: what somebody read keeps its figures, what was worked out has a meter's."""

from __future__ import annotations

import pytest

from loomwright.plant import Check
from loomwright.service.words import predicted_words, value_words

VOLTS = Check("one", "open", "voltage", "E2", unit="V")
AMPS = Check("two", "open", "current", "W2", unit="A")
LAMP = Check("three", "open", "lit", "H7", levels=("off", "dim", "on"))


@pytest.mark.parametrize(("check", "value", "read", "worked_out"), [
    (VOLTS, 0.038, "0.038 V", "0.04 V"),
    (VOLTS, -0.0049, "-0.005 V", "0.00 V"),
    (VOLTS, 0.04, "0.04 V", "0.04 V"),
    (VOLTS, 25.314, "25.31 V", "25.31 V"),
    (VOLTS, 8.15e-5, "0.00 V", "0.00 V"),
    (AMPS, 8.15e-5, "0.0815 mA", "0.1 mA"),
    (AMPS, 1.2, "1.20 A", "1.20 A"),
    (LAMP, "dim", "dim", "dim"),
    (VOLTS, None, "nothing certain", "nothing certain"),
])
def test_only_what_was_worked_out_is_rounded(
    check: Check, value: float | str | None, read: str, worked_out: str
) -> None:
    assert value_words(check, value) == read
    assert predicted_words(check, value) == worked_out
