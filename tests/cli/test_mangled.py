"""Files mangled at random are answered or refused, never a bug of ours; the seeds are fixed."""

import random

import jsonschema
import pytest

from tests.cli import contract
from tests.cli.running import DEMO_CIRCUIT, run

PIECES = ["", " ", "\n", ": ", "- ", "[", "]", "{", "}", "'", "#", "&a", "*a", "!!python/x", "|",
          "\t", "null", "0", "-1", "1e309", "nan", "BAT", "W1", "unknown", "Ω", "10 A", "yes", "\0"]


def mangled(seed):
    """Return the demo circuit with a few random cuts and insertions."""
    chance = random.Random(seed)
    text = DEMO_CIRCUIT.read_text(encoding="utf-8")
    for _ in range(chance.randint(1, 4)):
        at = chance.randrange(len(text))
        text = text[:at] + chance.choice(PIECES) + text[at + chance.choice([0, 0, 1, 3, 9, 40]):]
    if chance.random() < 0.3:  # whole lines gone
        lines = text.splitlines(keepends=True)
        del lines[chance.randrange(len(lines))]
        text = "".join(lines)
    return text


@pytest.mark.parametrize("seed", range(120))
def test_a_mangled_circuit_is_answered_or_refused(seed, tmp_path):
    file = tmp_path / "mangled.yaml"
    file.write_text(mangled(seed), encoding="utf-8")
    said = run("check", file, "--json")
    assert said.code in (0, 2), said.out
    jsonschema.validate(said.json, contract.CHECK if said.code == 0 else contract.ERROR)


@pytest.mark.parametrize("seed", range(40))
def test_a_mangled_circuit_that_is_sound_can_be_expected_and_drawn(seed, tmp_path):
    file = tmp_path / "mangled.yaml"
    file.write_text(mangled(1000 + seed), encoding="utf-8")
    sound = run("check", file).code == 0
    assert run("expect", file, "--json").code in ((0, 1) if sound else (2,))
    assert run("faults", file, "--json").code == 0 or not sound
    assert run("draw", file).code == 0 or not sound
