"""The workshop's use cases on the demonstration depot: the whole job, replay, refusals."""

from __future__ import annotations

import dataclasses
import shutil
from importlib.resources import files
from pathlib import Path

import pytest

from loomwright.circuit import parse_fault
from loomwright.errors import ConflictError, FileProblemsError, UnknownNameError, UsageError
from loomwright.service import reasoning, telling
from loomwright.service import words as service_words
from loomwright.service.depot import create_depot, fill_depot
from loomwright.service.hidden_vehicle import HiddenVehicle
from loomwright.service.jobs import Workshop
from loomwright.service.records import JobForm, JobView, Look, ReadingForm
from loomwright.service.report import record_pdf
from tests.service.depot_folder import TRUCK_4, TRUCK_7, TRUCK_9, depot_in

CIRCUIT = (files("loomwright.demo") / "tailgate_lock.yaml").read_text(encoding="utf-8")
JOB = JobForm("Skerry Island Council", "Van 2", "SKY 002", "lock", "will not lock", "always",
              CIRCUIT)
TWO_FAULTS = ("open:W22", "high-resistance:E2:30")
VOLTS = ReadingForm("locking", "voltage", "S4.1", value="25,1")


@pytest.fixture
def workshop(tmp_path: Path) -> Workshop:
    return Workshop(depot_in(tmp_path))


def asked(view: JobView) -> ReadingForm:
    entry = view.entry
    return ReadingForm(entry.state, entry.quantity, entry.at, entry.to,
                       instrument=entry.instrument)


def test_the_depot_has_a_job_of_each_sort(workshop: Workshop) -> None:
    states = {line.job.id: line.state for line in workshop.job_lines()}
    assert states == {TRUCK_9: "waiting", TRUCK_7: "finding the fault", TRUCK_4: "finished"}
    assert create_depot(workshop) == ()


def test_the_depot_goes_on_where_it_was_stopped_and_leaves_people_alone(tmp_path: Path) -> None:
    workshop = Workshop(tmp_path)
    create_depot(workshop)
    assert {line.readings for line in workshop.job_lines()} == {0, 1, 2}
    workshop.add_reading(TRUCK_4, VOLTS, "volts-key")  # somebody works on it meanwhile
    fill_depot(workshop)
    fill_depot(workshop)
    states = {line.job.id: (line.state, line.readings) for line in workshop.job_lines()}
    assert states == {TRUCK_9: ("waiting", 0), TRUCK_7: ("finding the fault", 2),
                      TRUCK_4: ("finding the fault", 3)}


def test_the_finished_truck_was_found_repaired_and_proved(workshop: Workshop) -> None:
    made = workshop.record(TRUCK_4)
    assert "Earth point E2" in made.cause
    assert "high resistance" in made.cause
    assert made.corrections[0].repair == "clean E2"
    assert made.corrections[0].outcome == "proved"
    assert made.proved
    # "Is the lamp lit?" was dim before and is on after: the complaint itself is in the proof
    assert ("dim", "on") in {(before, after) for _, before, after, _ in made.before_after}


def test_the_complaint_is_seen_before_it_is_traced(workshop: Workshop) -> None:
    wanted = {("locking", "Y1"), ("locking", "H1"), ("locking", "H7"), ("open", "Y1"),
              ("open", "H1"), ("open", "H7"), ("shut", "Y1"), ("shut", "H1")}
    view = workshop.view(TRUCK_9)
    # "Work lamp on the tailgate does not come on": the part named so, where it should be on
    assert (view.entry.state, view.entry.at) == ("open", "H7")
    tried = set()
    while "try each function" in view.verdict.title:
        assert view.entry.source == "next check"
        tried.add((view.entry.state, view.entry.at))
        workshop.demo_reading(TRUCK_9, asked(view), f"function-key-{len(tried)}")
        view = workshop.view(TRUCK_9)
    assert tried <= wanted
    # the work lamp is found not to light, and from there the engine leads
    assert ("open", "H7") in tried
    assert not view.readings[-1].as_expected


@pytest.mark.parametrize(("job_id", "fault"), [(TRUCK_7, "mend W20"), (TRUCK_9, "replace K4")])
def test_following_the_next_check_finds_and_proves_the_hidden_fault(
    workshop: Workshop, job_id: int, fault: str
) -> None:
    for number in range(20):
        view = workshop.view(job_id)
        if view.verdict.status == "repair":
            break
        assert view.entry.source == "next check"
        workshop.demo_reading(job_id, asked(view), f"step-key-{number}")
    assert view.verdict.repair == fault
    workshop.begin_repair(job_id, fault, "begin-key")
    assert workshop.view(job_id).state_word == "repairing"
    workshop.record_repair(job_id, (fault, "found broken"), "repair-key")
    for number in range(50):
        proof = workshop.view(job_id).proof
        assert proof is not None
        if proof.holds or "still to read" not in {line.status for line in proof.lines}:
            break
        workshop.demo_reading(job_id, asked(workshop.view(job_id)), f"proof-key-{number}")
    assert proof.holds, proof.why
    workshop.finish(job_id, ("back in service", ""), "finish-key")
    assert workshop.view(job_id).state_word == "finished"


def test_a_wrong_repair_does_not_pass_its_proof(workshop: Workshop) -> None:
    workshop.record_repair(TRUCK_7, ("replace S4", ""), "repair-key")
    for number in range(50):
        view = workshop.view(TRUCK_7)
        if view.entry.source != "proof":
            break
        workshop.demo_reading(TRUCK_7, asked(view), f"proof-key-{number}")
    assert view.proof is not None
    assert view.proof.failed
    assert not view.proof.holds
    with pytest.raises(UsageError, match="no proof that holds"):
        workshop.finish(TRUCK_7, ("", ""), "finish-key")
    workshop.reopen(TRUCK_7, "reopen-key")
    after = workshop.view(TRUCK_7)
    assert after.state_word == "finding the fault"
    assert after.repairs[0].outcome == "did not hold"
    assert "replace S4" not in [after.verdict.repair]


def test_a_job_replays_to_the_same_bytes(workshop: Workshop, tmp_path: Path) -> None:
    workshop.add_reading(TRUCK_7, VOLTS, "volts-key")
    first = workshop.verdict_text(TRUCK_7)
    workshop.close()
    copy = tmp_path.parent / f"{tmp_path.name}-copy"
    shutil.copytree(tmp_path, copy)
    again = Workshop(copy)
    bench = again.benches.get(again.store.job(TRUCK_7).circuit)
    fresh = type(bench)(bench.circuit)  # nothing kept from before
    history = again.opened(TRUCK_7)[1]
    rebuilt = reasoning.diagnosis_text(reasoning.diagnosis_of(fresh, history))
    assert rebuilt.encode() == first.encode()


def test_taking_a_reading_back_gives_the_verdict_of_before(workshop: Workshop) -> None:
    before = workshop.verdict_text(TRUCK_7)
    number = workshop.add_reading(TRUCK_7, VOLTS, "volts-key")
    assert workshop.verdict_text(TRUCK_7) != before
    workshop.withdraw(TRUCK_7, number, "withdraw-key")
    assert workshop.verdict_text(TRUCK_7) == before
    assert workshop.view(TRUCK_7).withdrawn == 1


def test_the_same_submission_twice_is_one_reading(workshop: Workshop) -> None:
    first = workshop.add_reading(TRUCK_7, VOLTS, "volts-key")
    assert workshop.add_reading(TRUCK_7, VOLTS, "volts-key") == first
    assert len(workshop.view(TRUCK_7).readings) == 3


@pytest.mark.parametrize(("form", "words"), [
    (dataclasses.replace(VOLTS, at="S4.9"), "S4.9"),
    (dataclasses.replace(VOLTS, state="lockin"), "lockin"),
    (dataclasses.replace(VOLTS, value="twelve"), "twelve"),
    (dataclasses.replace(VOLTS, value="12 A"), "12 A"),
    (dataclasses.replace(VOLTS, value=" "), "value is missing"),
    (ReadingForm("open", "lit", "H7", value="purple"), "purple"),
])
def test_a_reading_that_cannot_be_says_what_is_wrong(
    workshop: Workshop, form: ReadingForm, words: str
) -> None:
    with pytest.raises(UsageError, match=words):
        workshop.add_reading(TRUCK_7, form, "volts-key")
    assert len(workshop.view(TRUCK_7).readings) == 2


def test_a_finished_job_takes_no_more_readings(workshop: Workshop) -> None:
    with pytest.raises(ConflictError, match="finished"):
        workshop.add_reading(TRUCK_4, VOLTS, "volts-key")


def test_a_new_job_needs_a_circuit_that_reads_and_solves(workshop: Workshop) -> None:
    with pytest.raises(FileProblemsError):
        workshop.create_job(
            dataclasses.replace(JOB, circuit_text="loomwright: 1\nparts: 3\n"), "new-key-1")
    with pytest.raises(UsageError, match="no circuit"):
        workshop.create_job(dataclasses.replace(JOB, circuit_text=""), "new-key-1")
    with pytest.raises(UsageError, match="vehicle is missing"):
        workshop.create_job(dataclasses.replace(JOB, vehicle=" "), "new-key-1")
    copied = workshop.create_job(
        dataclasses.replace(JOB, circuit_text="", copy_from=TRUCK_7), "new-key-1")
    assert copied.circuit == workshop.store.job(TRUCK_7).circuit
    with pytest.raises(UsageError, match="real vehicle"):
        workshop.demo_measure(copied.id, VOLTS)


def test_the_drawing_can_show_what_a_suspect_would_do(workshop: Workshop) -> None:
    healthy = workshop.view(TRUCK_7, Look(state="locking"))
    suspect = healthy.shows[1].id
    shown = workshop.view(TRUCK_7, Look(state="locking", show=suspect))
    assert shown.drawing != healthy.drawing
    assert shown.shows[1].chosen


def test_why_an_output_is_off_names_its_inputs(workshop: Workshop) -> None:
    view = workshop.why(TRUCK_7, "shut", "ECU.lock")
    assert "request" in " ".join((view.summary, *view.ways))
    with pytest.raises(UnknownNameError):
        workshop.why(TRUCK_7, "shut", "ECU.lok")


def test_the_demo_meter_plays_the_same_again(workshop: Workshop) -> None:
    first = workshop.demo_measure(TRUCK_7, VOLTS)
    assert workshop.demo_measure(TRUCK_7, VOLTS) == first
    assert first.endswith(" V")


def test_after_a_repair_only_its_proof_is_asked_for(workshop: Workshop) -> None:
    proved = workshop.view(TRUCK_4)
    assert proved.proof is not None
    assert proved.next_checks == ()
    assert (proved.entry.at, proved.entry.line) == ("", None)


def test_the_record_becomes_a_pdf_whatever_was_typed(workshop: Workshop) -> None:
    nasty = dataclasses.replace(
        JOB, vehicle='#panic("no") <b>$x^2$', complaint='*bold* \\ "quote" Ω µ °', customer="")
    job = workshop.create_job(nasty, "new-key-1")
    made = record_pdf(workshop.record(job.id))
    assert made.startswith(b"%PDF")


def test_cautions_name_the_raised_tailgate_and_the_battery(workshop: Workshop) -> None:
    titles = [one.title for one in workshop.view(TRUCK_7).cautions]
    assert titles == ["Raised tailgate", "24 V battery"]
    assert all("maker's procedure" in one.text for one in workshop.view(TRUCK_7).cautions)


def test_a_repair_sent_from_an_old_page_is_not_taken(workshop: Workshop) -> None:
    seen = workshop.view(TRUCK_7).last
    workshop.add_reading(TRUCK_7, VOLTS, "volts-key")  # somebody else, meanwhile
    with pytest.raises(ConflictError, match="Somebody added"):
        workshop.record_repair(TRUCK_7, ("mend W20", ""), "repair-key", seen=seen)
    workshop.record_repair(TRUCK_7, ("mend W20", ""), "repair-key", seen=seen + 1)
    workshop.record_repair(TRUCK_7, ("mend W20", ""), "repair-key", seen=seen + 1)  # sent twice
    assert len(workshop.view(TRUCK_7).repairs) == 1


def test_two_faults_at_once_are_found_one_after_the_other(workshop: Workshop) -> None:
    """Readings of all rounds count, each as of the repairs done before it."""
    plant = workshop.benches.get(workshop.store.job(TRUCK_9).circuit).plant
    faults = tuple(parse_fault(plant.circuit, one) for one in TWO_FAULTS)
    vehicle = HiddenVehicle(plant, faults, 5)
    job = workshop.create_job(JOB, "two-faults-key")

    def take(key: str) -> None:
        form = asked(workshop.view(job.id))
        check = plant.check_for(form.state, form.quantity, form.at, form.to, form.instrument)
        shown = service_words.value_words(check, vehicle.measure(check))
        workshop.add_reading(job.id, dataclasses.replace(form, value=shown), key)

    done: list[str] = []
    said = False
    for number in range(120):
        view = workshop.view(job.id)
        proof = view.proof
        if proof is not None and proof.holds:
            break
        if proof is not None and proof.failed:
            workshop.reopen(job.id, f"reopen-key-{number}")
        elif proof is None and view.verdict.status == "repair":
            done.append(view.verdict.repair)
            vehicle.repair(view.verdict.repair)
            workshop.record_repair(job.id, (view.verdict.repair, ""), f"repair-key-{number}")
        elif view.verdict.status == "unexplained" and done and not said:
            assert "say so and go on" in view.verdict.why
            telling.tell(workshop, job.id, telling.TellForm("agree"), f"agree-key-{number}")
            said = True  # the old part was really bad: there is a second fault
        else:
            take(f"step-key-{number}")
    assert sorted(done) == ["clean E2", "mend W22"]
    assert workshop.view(job.id).proof is not None
    history = workshop.opened(job.id)[1]
    bench = workshop.benches.get(job.circuit)
    readings = reasoning.believed_readings(history)
    evidence = reasoning.evidence_of(bench, readings, history.repairs)
    assert {one.after for one in evidence} == {(), (done[0],)}  # both rounds are believed
    assert [one.round for one in readings] == sorted(one.round for one in readings)
