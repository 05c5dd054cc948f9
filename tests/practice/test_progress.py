"""The record of practice: appended only, and a changed line shows."""

import json

import pytest

from loomwright.errors import ConflictError
from loomwright.practice import FileProgress


def filled(folder):
    log = FileProgress(folder)
    for number in range(3):
        log.append("Mhairi", f"horn-1-{number}", "start", {"pool": "x"}, f"k{number}")
    return log, folder / "log.jsonl"


def test_entries_are_appended_and_never_rewritten(tmp_path):
    log, path = filled(tmp_path)
    before = path.read_bytes()
    log.append("Ewan", "horn-1-0", "start", {"pool": "x"}, "k9")
    assert path.read_bytes().startswith(before)
    assert [one.exercise for one in log.entries("Mhairi")] == ["horn-1-0", "horn-1-1", "horn-1-2"]
    assert len(FileProgress(tmp_path).entries()) == 4


def test_the_same_submission_counts_once(tmp_path):
    log, path = filled(tmp_path)
    before = path.read_bytes()
    assert log.append("Mhairi", "horn-1-1", "start", {}, "k1").exercise == "horn-1-1"
    assert path.read_bytes() == before


@pytest.mark.parametrize("number", [0, 1, 2])
def test_a_changed_line_shows(tmp_path, number):
    log, path = filled(tmp_path)
    lines = path.read_text().splitlines()
    row = json.loads(lines[number])
    lines[number] = json.dumps({**row, "who": "Ewan"})
    path.write_text("\n".join(lines) + "\n")
    with pytest.raises(ConflictError, match=f"Line {number + 1}"):
        log.entries()


def test_a_line_cut_out_of_the_middle_shows(tmp_path):
    log, path = filled(tmp_path)
    lines = path.read_text().splitlines()
    path.write_text("\n".join([lines[0], lines[2]]) + "\n")
    with pytest.raises(ConflictError):
        log.entries()


def test_a_line_cut_off_by_a_power_cut_is_left_out_and_the_next_one_is_whole(tmp_path):
    log, path = filled(tmp_path)
    with path.open("a") as file:
        file.write('{"id": "ab", "at"')
    assert len(log.entries()) == 3
    log.append("Ewan", "horn-1-5", "start", {}, "k5")
    assert [one.who for one in log.entries()][-2:] == ["Mhairi", "Ewan"]
