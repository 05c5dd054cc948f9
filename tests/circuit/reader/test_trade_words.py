"""Other words of the trade for a kind of part are refused with the word of this file."""

from __future__ import annotations

import pytest

from loomwright.circuit import read_circuit_text
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.reader.parts import _OTHER_WORDS
from loomwright.errors import FileProblemsError


@pytest.mark.parametrize(("word", "meant"), [
    ("ground", "earth"), ("bulb", "lamp"), ("breaker", "circuit breaker"), ("plug", "connector"),
    ("Valve", "solenoid"),
])
def test_the_word_of_this_file_is_named(word: str, meant: str) -> None:
    parts = f"parts: {{BAT: {{kind: battery}}, P1: {{kind: {word}}}}}\n"
    text = "loomwright: 1\nsystem: 12 V\n" + parts
    with pytest.raises(FileProblemsError) as caught:
        read_circuit_text(text + "wires:\n  - [W1, BAT.+, BAT.-]\n")
    assert f"Write 'kind: {meant}'." in {one.fix for one in caught.value.problems}


def test_every_other_word_means_a_kind_and_is_none_itself() -> None:
    assert set(_OTHER_WORDS.values()) <= set(KINDS)
    assert not set(_OTHER_WORDS) & set(KINDS)
