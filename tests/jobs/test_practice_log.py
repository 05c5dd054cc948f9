"""The log of practice in the store: added only, each submission once, and a changed row shows."""

import sqlite3
import threading

import pytest

from loomwright.errors import ConflictError
from loomwright.jobs.practice_log import PracticeLog


@pytest.fixture
def log(tmp_path):
    found = PracticeLog(tmp_path)
    yield found
    found.close()


def test_looking_makes_no_store(log, tmp_path):
    assert log.rows() == ()
    assert list(tmp_path.iterdir()) == []


def test_rows_stay_in_order_and_are_found_by_person_and_exercise(log):
    for who, exercise in (("Mhairi", "horn-1-0"), ("Ewan", "horn-1-0"), ("Mhairi", "horn-1-1")):
        log.append((who, exercise, "start"), {"pool": "x"}, "")
    assert [one.exercise for one in log.rows("Mhairi")] == ["horn-1-0", "horn-1-1"]
    assert [one.who for one in log.rows(exercise="horn-1-0")] == ["Mhairi", "Ewan"]
    first, second, _ = log.rows()
    assert (first.before, second.before) == ("", first.id)


def test_the_same_submission_counts_once(log):
    first = log.append(("Mhairi", "horn-1-0", "start"), {}, "k1")
    assert log.append(("Mhairi", "horn-1-5", "start"), {}, "k1") == first
    assert log.rows() == (first,)


def test_rows_are_never_changed_or_removed(log, tmp_path):
    log.append(("Mhairi", "horn-1-0", "start"), {}, "k1")
    base = sqlite3.connect(tmp_path / "jobs.sqlite")
    for order in ("UPDATE practice SET who = 'Ewan'", "DELETE FROM practice"):
        with pytest.raises(sqlite3.IntegrityError, match="never changed"):
            base.execute(order)
    base.close()


@pytest.mark.parametrize("order", [
    "UPDATE practice SET who = 'Ewan' WHERE number = 2", "DELETE FROM practice WHERE number = 2"])
def test_what_was_done_behind_the_programs_back_shows(log, tmp_path, order):
    for number in range(3):
        log.append(("Mhairi", f"horn-1-{number}", "start"), {}, "")
    base = sqlite3.connect(tmp_path / "jobs.sqlite")
    for action in ("update", "delete"):
        base.execute(f"DROP TRIGGER practice_refuse_{action}")
    base.execute(order)
    base.commit()
    base.close()
    with pytest.raises(ConflictError, match="was changed"):
        log.rows()


def test_two_programs_add_at_once_and_nothing_is_lost(log, tmp_path):
    log.append(("Mhairi", "horn-1-0", "start"), {}, "")

    def add(name: str) -> None:
        own = PracticeLog(tmp_path)
        for number in range(20):
            own.append((name, "horn-1-0", "reading"), {"number": number}, f"{name}-{number}")
        own.close()

    threads = [threading.Thread(target=add, args=(name,)) for name in ("Ewan", "Isla")]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert len(log.rows()) == 41
