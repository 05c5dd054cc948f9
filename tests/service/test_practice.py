"""The practice bench's use cases on a data folder."""

import pytest

from loomwright.circuit.templates import template_names
from loomwright.errors import ConflictError, NotFoundError, UnknownNameError, UsageError
from loomwright.jobs.practice_log import PracticeLog
from loomwright.practice import FileProgress
from loomwright.service.practice import Asked, Practice
from tests.practice.benches import exercise
from tests.service.test_bench import LAMP

VOLTS = Asked("sounding", "voltage", "F1.1", predict="about 12")


@pytest.fixture
def practice(tmp_path):
    """Return a bench on an empty folder."""
    return Practice(tmp_path)


def test_every_template_and_the_demo_truck_can_be_practised_on(practice):
    keys = [one.key for one in practice.circuits()]
    assert sorted(keys) == sorted(["demo-truck", *template_names()])


@pytest.mark.parametrize("circuit", ["can-bus", "standing-drain", "battery-master"])
@pytest.mark.parametrize("level", [1, 2, 3])
def test_every_level_has_an_exercise_in_odd_circuits_too(practice, circuit, level):
    name = practice.start("Mhairi", (circuit, level, 0))
    assert name == f"{circuit}-{level}-0"
    assert practice.view(name, "Mhairi").complaint


def test_a_circuit_without_loads_is_complained_of_by_its_controllers_list(practice):
    name = practice.start("Mhairi", ("lin-bus", 1, 0))
    assert "lists bus low as" in practice.view(name, "Mhairi").complaint[0]


def test_an_exercise_goes_from_start_to_result(practice):
    name = practice.start("Mhairi", ("horn", 1, 0))
    assert "Well predicted" in practice.measure(name, "Mhairi", VOLTS)
    view = practice.view(name, "Mhairi")
    assert view.readings[0].predicted == "12.00 V"
    assert not view.over
    assert view.result is None
    repair = exercise(1, 0).fault.repair
    result = practice.name_repair(name, "Mhairi", repair)
    assert result.right
    assert 0 < result.points < 100  # right, but one reading cannot show it
    view = practice.view(name, "Mhairi")
    assert view.over
    assert view.result == result
    assert len(view.result.replay) == 1
    done = practice.progress("Mhairi").done
    assert [(one.exercise, one.right, one.points) for one in done] == [(name, True, result.points)]


def test_a_prediction_comes_first(practice):
    name = practice.start("Mhairi", ("horn", 1, 0))
    with pytest.raises(UsageError, match="no prediction"):
        practice.measure(name, "Mhairi", Asked("sounding", "voltage", "F1.1"))
    with pytest.raises(UsageError):
        practice.measure(name, "Mhairi", Asked("sounding", "voltage", "F1.1", predict="12 A"))
    assert practice.view(name, "Mhairi").readings == ()
    practice.measure(name, "Mhairi", Asked("sounding", "voltage", "F1.1", predict="?"))
    assert practice.view(name, "Mhairi").readings[0].predicted == "not predicted"


def test_before_the_end_nothing_kept_or_shown_depends_on_the_fault(practice, tmp_path):
    """Two exercises with other faults and the same complaint look the same but for their names."""
    names = {}
    for seed in range(12):
        one = exercise(1, seed)
        names.setdefault(str(one.complaint), {})[one.fault.id] = one.id
    same = list(max(names.values(), key=len).values())
    assert len(same) >= 2
    shown = []
    for name in same[:2]:
        _, level, seed = name.rsplit("-", 2)
        practice.start("Mhairi", ("horn", int(level), int(seed)))
        shown.append(repr(practice.view(name, "Mhairi")).replace(name, "NAME"))
    assert shown[0] == shown[1]
    first, second = PracticeLog(tmp_path).rows()
    assert first.body == second.body


@pytest.mark.parametrize("instrument", ["test lamp", "21 W lamp"])
def test_lamps_load_the_faulty_circuit(practice, instrument):
    name = practice.start("Mhairi", ("horn", 1, 0))
    practice.measure(name, "Mhairi", Asked("sounding", "voltage", "F1.1",
                                           instrument=instrument, predict="on"))
    (reading,) = practice.view(name, "Mhairi").readings
    assert reading.shown == "on"
    assert instrument in reading.title


def test_an_ended_exercise_takes_nothing_more_and_can_be_tried_again(practice):
    name = practice.start("Mhairi", ("horn", 1, 0))
    practice.name_repair(name, "Mhairi", "")
    with pytest.raises(ConflictError):
        practice.measure(name, "Mhairi", VOLTS)
    assert practice.start("Mhairi", ("horn", 1, 0)) == name
    view = practice.view(name, "Mhairi")
    assert (view.attempt, view.over) == (2, False)
    practice.name_repair(name, "Mhairi", exercise(1, 0).fault.repair)
    levels = practice.progress("Mhairi").by_level
    assert levels[0][1:3] == (1, 0)  # only the first try counts


def test_two_people_do_not_see_each_others_readings(practice):
    name = practice.start("Mhairi", ("horn", 1, 0))
    practice.measure(name, "Mhairi", VOLTS)
    assert practice.view(name, "Ewan").readings == ()


def test_the_same_submission_is_one_reading(practice):
    name = practice.start("Mhairi", ("horn", 1, 0), "k1")
    assert practice.start("Mhairi", ("horn", 1, None), "k1") == name
    for _ in range(2):
        practice.measure(name, "Mhairi", VOLTS, "k2")
    assert len(practice.view(name, "Mhairi").readings) == 1


def test_the_sheet_shows_only_what_was_found(practice):
    name = practice.start("Mhairi", ("horn", 1, 1))
    practice.name_repair(name, "Mhairi", "")
    assert not any(line.exercises for line in practice.sheet("Mhairi").lines)
    other = practice.start("Mhairi", ("horn", 1, 4))
    practice.measure(other, "Mhairi", Asked("sounding", "voltage", "F1.1", "F1.2", predict="0"))
    practice.name_repair(other, "Mhairi", exercise(1, 4).fault.repair)
    shown = {line.task.id for line in practice.sheet("Mhairi").lines if line.exercises}
    assert shown == {"break", "body", "drop"}
    assert practice.people() == ("Mhairi",)


def test_a_circuit_of_ones_own_can_be_practised_on(practice):
    key = practice.add_circuit(LAMP)
    assert practice.add_circuit(LAMP) == key
    assert practice.circuits()[-1].key == key
    name = practice.start("Mhairi", (key, 1, 3))
    assert practice.view(name, "Mhairi").complaint


def test_what_is_not_there_is_refused(practice):
    with pytest.raises(NotFoundError):
        practice.start("Mhairi", ("../secret", 1, 0))
    with pytest.raises(UsageError, match="name"):
        practice.start("  ", ("horn", 1, 0))
    with pytest.raises(UnknownNameError):
        practice.start("Mhairi", ("horn", 7, 0))
    name = practice.start("Mhairi", ("horn", 1, 0))
    with pytest.raises(UnknownNameError, match="repair"):
        practice.name_repair(name, "Mhairi", "replace everything")


def test_a_log_file_of_an_older_version_is_taken_into_the_store_once(tmp_path):
    file = FileProgress(tmp_path / "practice")
    old = file.append("Mhairi", "horn-1-0", "start", {"pool": "x"}, "k1")
    file.append("Mhairi", "horn-1-0", "end", {
        "repair": "", "right": False, "points": 0, "minutes": 9.0, "best_minutes": 3.0, "level": 1,
        "predicted": 0, "predicted_right": 0, "tasks": []}, "k2")
    for _ in range(2):
        again = Practice(tmp_path)
        assert [one.exercise for one in again.progress("Mhairi").done] == ["horn-1-0"]
        assert again.log.entries()[0] == old
        again.close()
    assert len(PracticeLog(tmp_path).rows()) == 2


def test_a_supervisor_signs_a_task_and_takes_it_back_and_both_stay(practice):
    practice.start("Mhairi", ("horn", 1, 0))
    practice.sign_off("Mhairi", "drop", "Isla  Foreman", (True, "on truck 7"), "k1")
    practice.sign_off("Mhairi", "drop", "Isla Foreman", (True, "on truck 7"), "k1")
    by_task = {line.task.id: line.signed for line in practice.sheet("Mhairi").lines}
    assert (by_task["drop"].by, by_task["drop"].note) == ("Isla Foreman", "on truck 7")
    assert by_task["short"] is None
    practice.sign_off("Mhairi", "drop", "Isla Foreman", (False, "another truck"), "k2")
    by_task = {line.task.id: line.signed for line in practice.sheet("Mhairi").lines}
    assert not by_task["drop"].signed
    kept = [one.body["signed"] for one in practice.log.entries("Mhairi") if one.what == "sign-off"]
    assert kept == [True, False]


@pytest.mark.parametrize(("who", "task", "by", "said", "problem"), [
    ("Mhairi", "dorp", "Isla", (True, ""), "dorp"),
    ("Mhairi", "drop", " ", (True, ""), "Nobody's name"),
    ("Mhairi", "drop", "mhairi", (True, ""), "their own sheet"),
    ("Mhairi", "drop", "Isla", (False, " "), "without a reason"),
    ("Mhairi", "drop", "Isla", (True, "x" * 501), "501 characters"),
    ("Mairi", "drop", "Isla", (True, ""), "not practised")])
def test_a_signature_that_cannot_stand_is_refused(practice, who, task, by, said, problem):
    practice.start("Mhairi", ("horn", 1, 0))
    with pytest.raises((UsageError, NotFoundError), match=problem):
        practice.sign_off(who, task, by, said)
    assert [one.what for one in practice.log.entries("Mhairi")] == ["start"]
