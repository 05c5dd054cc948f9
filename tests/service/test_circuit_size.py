"""A circuit that would fill the memory is refused before anything of it is solved."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from loomwright.circuit import read_circuit_text
from loomwright.circuit.sequences import run_sequence
from loomwright.circuit.templates import template_names, template_text
from loomwright.errors import UsageError
from loomwright.jobs.records import Complaint, NewJob, Vehicle
from loomwright.service import circuit_size
from loomwright.service.behaviour import sequence_notes
from loomwright.service.circuit_editor import Draft, check_draft, sheet_from
from loomwright.service.circuit_size import check_size
from loomwright.service.jobs import Workshop, check_circuit
from loomwright.service.practice import Practice

SOON_S = 5.0  # the refusal takes 0.1 s on a quiet machine; what it spares takes 24 s and 8 GB


def lamps(count: int, states: int = 1) -> str:
    """Return a circuit of lamps beside one another, each with two wires of its own."""
    parts = "".join(f"  H{n}: {{kind: lamp, power: 21 W}}\n" for n in range(count))
    wires = "".join(f"  - [W{n}, BAT.+, H{n}.1, 1 mm2, 1 m]\n"
                    f"  - [V{n}, H{n}.2, BAT.-, 1 mm2, 1 m]\n" for n in range(count))
    named = "".join(f"  s{n}: {{}}\n" for n in range(states))
    return (f"loomwright: 1\ntitle: lamps\nsystem: 12 V\nparts:\n  BAT: {{kind: battery}}\n{parts}"
            f"wires:\n{wires}states:\n{named}")


@pytest.mark.parametrize("text", [lamps(120), lamps(40, 400), lamps(1, 20_000)])
def test_a_circuit_of_kilobytes_that_would_take_gigabytes_is_refused_at_once(text: str) -> None:
    begin = time.monotonic()
    with pytest.raises(UsageError, match="too large to be searched here: it has"):
        check_circuit(text)
    assert time.monotonic() - begin < SOON_S


@pytest.mark.parametrize("name", template_names())
def test_every_template_is_far_from_the_limit(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    # half: the largest has a third, and a workshop adds to a template what its vehicle has
    monkeypatch.setattr(circuit_size, "MOST_PREDICTIONS", circuit_size.MOST_PREDICTIONS // 2)
    try:
        check_size(read_circuit_text(template_text(name)))
    except UsageError as error:
        pytest.fail(error.message)


def test_the_editor_says_so_beside_the_text() -> None:
    found = check_draft(Draft(lamps(120)))
    assert not found.findings
    assert not found.drawing
    assert "too large" in found.drawing_note


def test_one_kept_from_before_the_limit_is_refused_where_it_would_be_searched(
        tmp_path: Path) -> None:
    workshop = Workshop(tmp_path)
    job = workshop.store.add_job(NewJob("", Vehicle("Tug", "", ""), "", Complaint("dark", ""),
                                        lamps(120), "", ""), "kept-before")
    workshop.warm().join(SOON_S)  # would begin to build it: nothing may raise in the background
    assert "H119" in workshop.circuit_text(job.id)
    with pytest.raises(UsageError, match="too large"):
        workshop.diagnosis(job.id)
    workshop.close()


def test_a_refused_circuit_of_ones_own_leaves_nothing_to_practise_on(tmp_path: Path) -> None:
    bench = Practice(tmp_path)
    with pytest.raises(UsageError, match="too large"):
        bench.add_circuit(lamps(120))
    assert not list(tmp_path.rglob("*.yaml"))
    bench.close()


@pytest.mark.parametrize("rows", ["parts", "states", "places"])
def test_the_editor_takes_the_longest_text_in_seconds(rows: str) -> None:
    head = "loomwright: 1\nsystem: 12 V\nplaces:\n  shelf: {reach: 1 min}\n"
    many = {"parts": "".join(f"  E{n}: {{kind: earth}}\n" for n in range(19_000)),
            "states": "".join(f"  s{n}: {{}}\n" for n in range(37_000)),
            "places": "".join(f"  p{n}: {{reach: 1 min}}\n" for n in range(18_000))}[rows]
    lamp = ("parts:\n  BAT: {kind: battery}\n  H1: {kind: lamp}\n"
            "wires:\n  - [W1, BAT.+, H1.1]\n  - [W2, H1.2, BAT.-]\n")
    text = {"parts": head + lamp.replace("wires:", f"{many}wires:") + "states:\n  s: {}\n",
            "states": f"{head}{lamp}states:\n{many}",
            "places": f"{head}{many}{lamp}states:\n  s: {{}}\n"}[rows]
    begin = time.process_time()
    found = check_draft(Draft(text[:500_000]))
    assert time.process_time() - begin < 15  # s; 2 on a quiet machine, 36 where a search was nested
    assert found.sheet is None  # more than a page of tables takes
    assert "at most 2000 rows" in found.no_sheet


def test_tables_at_their_limit_are_checked_in_seconds() -> None:
    head = {"system": "12 V"}
    tables = {"wires": [[f"W{n}", f"H{n}.1", f"H{n + 1}.2", "1", "1", "rd"] for n in range(2_000)],
              "parts": [[f"H{n}", "lamp", "21 W", "", ""] for n in range(2_000)],
              "states": [["s", "", "", ""]]}
    begin = time.process_time()
    found = check_draft(Draft("", sheet_from(head, tables)))
    assert time.process_time() - begin < 15  # s; 2 on a quiet machine
    assert found.findings


FLASHER = """
loomwright: 1
system: 12 V
parts:
  BAT: {kind: battery}
  ECU: {kind: controller, supply: 1, earth: 2,
        outputs: {lamp: {pin: 3, drives: high side, when: lit, flash period: 0.7 s}}}
  H1: {kind: lamp}
wires:
  - [W1, BAT.+, ECU.1]
  - [W2, ECU.2, BAT.-]
  - [W3, ECU.3, H1.1]
  - [W4, H1.2, BAT.-]
states:
  off: {}
  flashing: {lit: yes}
sequences:
"""


def test_sequences_without_end_are_not_run_for_ever() -> None:
    long = "".join(f"  q{n}: [{{state: flashing, for: 1 h}}]\n" for n in range(400))
    begin = time.process_time()
    notes = tuple(sequence_notes(read_circuit_text(FLASHER + long)))
    assert time.process_time() - begin < 60  # s; 8 on a quiet machine, an hour without a limit
    assert "398 sequences were not run here" in notes[-1]


def test_an_output_flashes_that_watches_no_lamp() -> None:
    circuit = read_circuit_text(f"{FLASHER}  q: [{{state: flashing, for: 7 s}}]\n")
    load = {one.name: one for one in run_sequence(circuit, "q").loads}["H1"]
    assert load.times == 10  # 7 s of flashes of 0.7 s
    assert load.on_s == pytest.approx(3.5)  # half of it lit
