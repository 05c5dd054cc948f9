"""A circuit that would fill the memory is refused before anything of it is solved."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from loomwright.circuit import read_circuit_text
from loomwright.circuit.templates import template_names, template_text
from loomwright.errors import UsageError
from loomwright.jobs.records import Complaint, NewJob, Vehicle
from loomwright.service import circuit_size
from loomwright.service.circuit_editor import Draft, check_draft
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
