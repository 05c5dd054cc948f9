"""What a readings file tells beside readings, on the demo circuit, through the use case."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest

from loomwright.circuit import CircuitPlant, read_circuit
from loomwright.circuit.remarks import read_remarks_text
from loomwright.diagnosis import Evidence, build_table, diagnose
from loomwright.errors import FileProblemsError, UsageError
from loomwright.service import bench, reasoning
from loomwright.service.clues import clues_of
from loomwright.service.instrument import as_shown, typed_step
from loomwright.service.job_transfer import export_text, import_text
from loomwright.service.jobs import Workshop
from loomwright.service.learning import LearnedFrom
from loomwright.service.telling import TellForm, agreed, take_back, tell
from tests.service.depot_folder import TRUCK_7, depot_in

SEEN = "- {state: locking, quantity: running, at: Y1, value: off, instrument: eye}\n"


@pytest.fixture(scope="module")
def circuit_file(tmp_path_factory: pytest.TempPathFactory) -> str:
    path = tmp_path_factory.mktemp("circuit") / "lock.yaml"
    with (files("loomwright.demo") / "tailgate_lock.yaml").open("rb") as source:
        path.write_bytes(source.read())
    return str(path)


@pytest.fixture(scope="module")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Workshop:
    return Workshop(depot_in(tmp_path_factory.mktemp("depot")))


@pytest.fixture(scope="module")
def plant(circuit_file: str) -> CircuitPlant:
    return CircuitPlant(read_circuit(circuit_file))


def told(tmp_path: Path, text: str) -> str:
    path = tmp_path / "readings.yaml"
    path.write_text(text, encoding="utf-8")
    return str(path)


def shares(answer: bench.SuspectsAnswer) -> dict[str, float]:
    return {one.id: one.probability for one in answer.diagnosis.suspects}


def test_a_code_about_an_output_speaks_for_what_stops_its_current(
    circuit_file: str, tmp_path: Path
) -> None:
    plain = bench.suspects(circuit_file, told(tmp_path, SEEN))
    coded = bench.suspects(circuit_file, told(
        tmp_path, f"codes: [{{code: lock valve line open, about: ECU.lock}}]\nreadings:\n  {SEEN}"))
    known = dict(coded.clues[0].likelihood)
    assert known["open:W22"] == pytest.approx(0.8)  # it stops the valve's current: 1 less the miss
    assert "stuck:Y1" not in known  # a stuck valve draws its current all the same
    assert shares(coded)["open:W22"] > shares(plain)["open:W22"]
    assert coded.clues[0].text == "The code 'lock valve line open' is stored"


def test_a_code_about_an_input_speaks_for_what_the_controller_would_list_wrongly(
    plant: CircuitPlant
) -> None:
    remarks = read_remarks_text("codes: [{code: shut signal, about: ECU.shut}]", plant.circuit)
    table = build_table(plant)
    clue = clues_of(table, plant, remarks)[0]
    known = dict(clue.likelihood)
    assert known["open:W20"] == pytest.approx(0.8)  # the signal's own wire: 1 less the miss share
    assert "open:W22" not in known  # the valve's wire does not move the signal
    assert clue.otherwise == pytest.approx(0.05)
    missing = read_remarks_text(
        "codes: [{code: shut signal, about: ECU.shut, stored: no}]", plant.circuit)
    absent = dict(clues_of(table, plant, missing)[0].likelihood)
    assert absent["open:W20"] == pytest.approx(0.2)


def test_a_part_swapped_without_effect_is_hardly_a_suspect_any_more(
    circuit_file: str, tmp_path: Path
) -> None:
    plain = bench.suspects(circuit_file, told(tmp_path, SEEN))
    swapped = bench.suspects(circuit_file, told(
        tmp_path, f"swapped: [{{part: Y1, result: no change}}]\nreadings:\n  {SEEN}"))
    assert shares(swapped).get("open:Y1", 0.0) < 0.05 * shares(plain)["open:Y1"]
    gone = bench.suspects(circuit_file, told(
        tmp_path, f"swapped: [{{part: Y1, result: gone}}]\nreadings:\n  {SEEN}"))
    assert shares(gone)["open:Y1"] > 2.0 * shares(plain)["open:Y1"]


def test_history_raises_what_was_touched_and_what_is_not_drawn(
    circuit_file: str, tmp_path: Path
) -> None:
    plain = bench.suspects(circuit_file, told(tmp_path, SEEN))
    history = "history: [{what: worked until the towbar was fitted, touched: X1, added: yes}]\n"
    worked = bench.suspects(circuit_file, told(tmp_path, f"{history}readings:\n  {SEEN}"))
    ratio = shares(worked)["open:X1.3"] / shares(worked)["open:W24"]
    assert ratio == pytest.approx(10.0 * shares(plain)["open:X1.3"] / shares(plain)["open:W24"],
                                  rel=1e-6)
    assert worked.diagnosis.unmodelled > plain.diagnosis.unmodelled


def test_functions_that_share_points_speak_about_one_another(
    circuit_file: str, tmp_path: Path
) -> None:
    """The work lamp lights, so what it shares with the lock valve is good."""
    dead = bench.suspects(circuit_file, told(tmp_path, SEEN))
    lit = bench.suspects(circuit_file, told(
        tmp_path, SEEN + "- {state: open, quantity: lit, at: H7, value: on, instrument: eye}\n"))
    for shared in ("open:E2", "open:W24", "open:W7"):
        assert shares(lit).get(shared, 0.0) < 0.1 * shares(dead)[shared]
    assert shares(lit)["open:W22"] > shares(dead)["open:W22"]


def test_dim_and_slow_are_told_from_off(circuit_file: str, tmp_path: Path) -> None:
    dim = bench.suspects(circuit_file, told(
        tmp_path, "- {state: open, quantity: lit, at: H7, value: dim, instrument: eye}\n"))
    lead = dim.diagnosis.suspects[0]
    assert lead.kind == "high-resistance"


def test_readings_of_before_and_after_a_repair_both_count(
    circuit_file: str, tmp_path: Path
) -> None:
    text = SEEN + ("- {state: locking, quantity: running, at: Y1, value: off, after: mend W22}\n")
    answer = bench.suspects(circuit_file, told(tmp_path, text))
    assert [one.after for one in answer.evidence] == [(), ("mend W22",)]
    assert shares(answer).get("open:W22", 0.0) < 1e-6


@pytest.mark.parametrize(("text", "words"), [
    ("codes: [{code: x, about: ECU.lok}]", "ECU.lock"),
    ("codes: [{about: ECU.lock}]", "no 'code'"),
    ("codes: [{code: x, about: W1, miss: 3}]", "unit"),
    ("swapped: [{part: Y9, result: gone}]", "no part 'Y9'"),
    ("swapped: [{part: Y1, result: perhaps}]", "no result"),
    ("history: [{what: x, touched: W99}]", "W9"),
    ("history: [{what: x, touched: W1, weight: 0}]", "out of range"),
    ("history: {what: x}", "a list"),
    ("meter: {step: 3 A}\nreadings:\n  " + SEEN, "step"),
    ("agreed: perhaps\nreadings:\n  " + SEEN, "yes or no"),
    ("readings: []\ncods: []", "codes"),
    (SEEN.rstrip("\n").replace("value: off", "value: off, after: mend W99") + "\n", "mend W9"),
])
def test_what_cannot_be_is_refused_with_its_place(
    circuit_file: str, tmp_path: Path, text: str, words: str
) -> None:
    with pytest.raises(FileProblemsError) as caught:
        bench.suspects(circuit_file, told(tmp_path, text))
    problems = caught.value.problems
    assert words in " ".join(f"{one.what} {one.fix}" for one in problems)
    assert all(one.line >= 1 for one in problems)


@pytest.mark.parametrize(("typed", "step"), [
    ("11.9 V", 0.1), ("11,90 V", 0.01), ("25 V", 1.0), ("119 mV", 0.001), ("0 V", 0.0),
    ("0.0 V", 0.1), ("on", 0.0),
])
def test_the_digits_typed_tell_the_step_of_the_display(
    plant: CircuitPlant, typed: str, step: float
) -> None:
    check = plant.check_for("locking", "voltage", "Y1.1")
    assert typed_step(check, typed) == pytest.approx(step)


def test_a_coarse_display_makes_no_proof_of_a_fine_difference(plant: CircuitPlant) -> None:
    """Read to a tenth of a volt, 0.1 V of drop is as good as none; read to 10 mV it is not."""
    table = build_table(plant)
    check = plant.check_for("locking", "voltage", "W22")
    fine = (Evidence(check, 0.15),)
    coarse = as_shown(fine, ["0.1 V"])
    assert coarse[0].check.resolution == pytest.approx(0.1)
    healthy = [diagnose(table, one).no_fault for one in (fine, coarse)]
    assert healthy[1] > 2.0 * healthy[0]


def test_counts_of_closed_jobs_move_the_suspects(circuit_file: str, tmp_path: Path) -> None:
    counts = tmp_path / "learned.json"
    counts.write_text(
        '{"format": "loomwright counts", "version": 1, "counts": [{"part_kind": "solenoid",'
        ' "fault_kind": "open", "place": "tailgate", "vehicle_class": "24 V", "count": 40}]}',
        encoding="utf-8")
    readings = told(tmp_path, SEEN)
    plain = bench.suspects(circuit_file, readings)
    for source in (counts, tmp_path):  # the file, or the data folder it lies in
        learned = LearnedFrom.at(source)
        moved = bench.suspects(circuit_file, readings, learned=learned)
        assert shares(moved)["open:Y1"] > 3.0 * shares(plain)["open:Y1"]
    assert learned.words == "Priors follow 40 closed jobs; the circuit's own are worth 50."
    weak = bench.suspects(circuit_file, readings, learned=LearnedFrom.at(counts, 1000.0))
    assert shares(weak)["open:Y1"] < shares(moved)["open:Y1"]


def test_what_is_told_of_a_job_counts_and_can_be_taken_back(tmp_path: Path) -> None:
    workshop = Workshop(depot_in(tmp_path))
    before = workshop.verdict_text(TRUCK_7)
    suspects = reasoning.diagnosis_of(workshop.opened(TRUCK_7)[2], workshop.opened(TRUCK_7)[1])
    swapped = tell(workshop, TRUCK_7, TellForm("swap", about="ECU"), "swap-key-1", "Ann")
    tell(workshop, TRUCK_7, TellForm("history", "hinge was welded", "X1, W20"), "past-key-1")
    tell(workshop, TRUCK_7, TellForm("code", "shut signal", "ECU.shut", "stored"), "code-key-1")
    view = workshop.view(TRUCK_7)
    assert [line.title for line in view.told] == [
        "The code 'shut signal' is stored", "A known good ECU in its place changed nothing",
        "Just before the fault: hinge was welded"]
    assert workshop.verdict_text(TRUCK_7) != before
    history, bench_now = workshop.opened(TRUCK_7)[1:]
    found = reasoning.diagnosis_of(bench_now, history)
    share = {one.id: one.probability for one in found.suspects}
    was = {one.id: one.probability for one in suspects.suspects}
    assert share["open:W20"] > was["open:W20"]
    (tmp_path / "other").mkdir()
    copied = Workshop(tmp_path / "other")  # it travels with the job
    imported = import_text(copied, export_text(workshop, TRUCK_7))
    assert len(copied.view(imported.job).told) == 3
    for line in view.told:
        take_back(workshop, TRUCK_7, line.number, f"back-key-{line.number}")
    assert workshop.verdict_text(TRUCK_7) == before
    assert swapped in {line.number for line in view.told}
    with pytest.raises(UsageError, match="was not told"):
        take_back(workshop, TRUCK_7, swapped, "back-key-again")


@pytest.mark.parametrize(("form", "words"), [
    (TellForm("rumour", "x", "W1"), "rumour"), (TellForm("code", "", "W1"), "words are missing"),
    (TellForm("code", "x", ""), "what it concerns"), (TellForm("swap", "", "W1"), "W1"),
    (TellForm("history", "x", "W99"), "W99"), (TellForm("swap", "", "K3", "perhaps"), "perhaps"),
    (TellForm("code", "x" * 201, "W1"), "201 characters"),
])
def test_what_cannot_be_told_says_why(
    workshop: Workshop, form: TellForm, words: str
) -> None:
    with pytest.raises(UsageError, match=words):
        tell(workshop, TRUCK_7, form, "told-key-1")


def test_a_second_part_needs_a_persons_word_on_the_job(tmp_path: Path) -> None:
    workshop = Workshop(depot_in(tmp_path))
    assert not agreed(workshop.opened(TRUCK_7)[1])
    tell(workshop, TRUCK_7, TellForm("agree"), "agree-key-1", "Ann")
    assert agreed(workshop.opened(TRUCK_7)[1])
    workshop.record_repair(TRUCK_7, ("replace S4", ""), "repair-key-1")
    workshop.reopen(TRUCK_7, "reopen-key-1")
    assert not agreed(workshop.opened(TRUCK_7)[1])  # it was for the part before


def test_a_depot_follows_its_own_counts(tmp_path: Path) -> None:
    folder = depot_in(tmp_path)
    plain = Workshop(folder).view(TRUCK_7)
    (folder / "learned.json").write_text(
        '{"format": "loomwright counts", "version": 1, "counts": [{"part_kind": "switch",'
        ' "fault_kind": "stuck-open", "place": "tailgate", "vehicle_class": "24 V",'
        ' "count": 30}]}', encoding="utf-8")
    learned = Workshop(folder).view(TRUCK_7)
    assert plain.learned == ""
    assert learned.learned.startswith("Priors follow 30 closed jobs")
    assert [one.share for one in learned.suspects] != [one.share for one in plain.suspects]
