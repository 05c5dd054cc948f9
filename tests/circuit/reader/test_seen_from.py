"""`seen from`: other places from where one sees what a part does, read and refused."""

from __future__ import annotations

import pytest

from loomwright.circuit import read_circuit_text
from loomwright.circuit.model import Circuit
from loomwright.errors import FileProblemsError

FILE = """loomwright: 1
system: 12 V
places:
  bay: 3 min
  seat: 0.5 min
parts:
  BAT: {{kind: battery, place: bay}}
  F1: {{kind: fuse, place: bay{fuse}}}
  H1: {{kind: lamp, place: bay{lamp}}}
wires:
  - [W1, BAT.+, F1.1]
  - [W2, F1.2, H1.1]
  - [W3, H1.2, BAT.-]
"""


def read(lamp: str = "", fuse: str = "") -> Circuit:
    return read_circuit_text(FILE.format(lamp=lamp, fuse=fuse))


@pytest.mark.parametrize(("typed", "found"), [
    ("", ()), (", seen from: seat", ("seat",)), (", seen from: [seat, bay]", ("seat", "bay")),
    (", seen from: [seat, ' seat ']", ("seat",))])
def test_one_place_or_a_list(typed: str, found: tuple[str, ...]) -> None:
    assert read(typed).parts["H1"].seen_from == found


def test_a_place_that_the_file_does_not_have_is_refused_where_it_stands() -> None:
    with pytest.raises(FileProblemsError) as caught:
        read(", seen from: [bay, seet]")
    (problem,) = caught.value.problems
    assert "There is no place 'seet'" in str(problem)
    assert "seat" in str(problem)
    assert (problem.line, problem.column) == (9, 49)


def test_nobody_sees_a_fuse_work() -> None:
    with pytest.raises(FileProblemsError, match="Nothing of a fuse"):
        read(fuse=", seen from: seat")


def test_without_places_each_one_named_is_there() -> None:
    text = FILE.format(lamp=", seen from: seat", fuse="").replace(
        "places:\n  bay: 3 min\n  seat: 0.5 min\n", "")
    assert set(read_circuit_text(text).places) >= {"bay", "seat"}
