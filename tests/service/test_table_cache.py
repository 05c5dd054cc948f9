"""Predictions kept between two starts: the same answers, nothing from a file that does not fit."""

from __future__ import annotations

import dataclasses
import json
import math
import os
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from loomwright.circuit import CircuitPlant, read_circuit_text
from loomwright.circuit.plant.kept import read_kept, write_kept
from loomwright.diagnosis import build_table
from loomwright.service import table_cache
from tests.circuit.plant.test_consequences import MOTOR
from tests.cli.running import run

READINGS = """
- {state: pumping, quantity: running, at: M1, value: off}
- {state: pumping, quantity: voltage, at: F1.2, value: 12.4 V}
- {state: pumping, quantity: voltage, at: M1.1, value: 0 V}
"""


def kept_file(folder: Path) -> Path:
    (file,) = folder.rglob("*.npz")
    return file


def asked(folder: Path, *words: str) -> str:
    (folder / "pump.yaml").write_text(MOTOR, encoding="utf-8")
    (folder / "readings.yaml").write_text(READINGS, encoding="utf-8")
    said = run("suspects", folder / "pump.yaml", "--readings", folder / "readings.yaml", "--json",
               *words)
    assert said.code == 0
    return said.out


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return tmp_path / "cache" / "loomwright" / "predictions"


def test_a_kept_plant_predicts_the_very_same_and_solves_what_was_not_kept(tmp_path: Path) -> None:
    circuit = read_circuit_text(MOTOR)
    plain = build_table(CircuitPlant(circuit))
    assert isinstance(plain.plant, CircuitPlant)
    write_kept(tmp_path / "one.npz", plain.plant.to_keep())
    found = read_kept(tmp_path / "one.npz")
    assert found is not None
    again = build_table(CircuitPlant(read_circuit_text(MOTOR), found))
    assert again.rows == plain.rows
    assert again.checks == plain.checks
    for one, other in zip(again.models, plain.models, strict=True):
        for name in ("raw", "mean", "sd"):
            assert np.array_equal(getattr(one, name), getattr(other, name), equal_nan=True)
    # a lamp between two points was never offered, so it was not kept
    lamp = plain.plant.check_for("pumping", "voltage", "M1.1", "BAT.-", "test lamp")
    first, second = plain.model(lamp).levels, again.model(lamp).levels
    assert first is not None
    assert second is not None
    assert np.array_equal(first, second)


def test_the_command_answers_the_same_and_keeps_one_file(tmp_path: Path, cache: Path) -> None:
    first = asked(tmp_path)
    written = kept_file(cache).stat().st_mtime_ns
    assert asked(tmp_path) == first
    assert kept_file(cache).stat().st_mtime_ns >= written
    assert asked(tmp_path, "--no-cache") == first


def test_no_cache_leaves_no_file(tmp_path: Path, cache: Path) -> None:
    asked(tmp_path, "--no-cache")
    assert not cache.exists()


@pytest.mark.parametrize("damage", [b"", b"not a zip file", b"half"])
def test_a_damaged_file_is_no_file(tmp_path: Path, cache: Path, damage: bytes) -> None:
    first = asked(tmp_path)
    file = kept_file(cache)
    whole = file.read_bytes()
    file.write_bytes(whole[:len(whole) // 2] if damage == b"half" else damage)
    assert read_kept(file) is None
    assert asked(tmp_path) == first
    assert read_kept(file) is not None  # written afresh


def test_a_flipped_byte_is_seen(tmp_path: Path, cache: Path) -> None:
    asked(tmp_path)
    file = kept_file(cache)
    whole = bytearray(file.read_bytes())
    whole[len(whole) // 2] ^= 0xFF
    file.write_bytes(bytes(whole))
    assert read_kept(file) is None  # the archive's own checksum


def test_a_file_with_code_in_it_is_not_run(tmp_path: Path) -> None:
    np.savez(tmp_path / "bad.npz", head=np.array([object()], dtype=object))
    assert read_kept(tmp_path / "bad.npz") is None


def rewritten(file: Path, change: Callable[[dict[str, Any], dict[str, Any]], object]) -> None:
    """Write a kept file again with its head and arrays changed; its checksums are right."""
    with np.load(file) as found:
        arrays = dict(found)
    head = json.loads(arrays["head"].tobytes())
    change(head, arrays)
    arrays["head"] = np.frombuffer(json.dumps(head).encode(), np.uint8)
    np.savez(file, **arrays)


def swapped(head: dict[str, Any], arrays: dict[str, Any]) -> None:
    """Call a look a voltage and a voltage a look."""
    name, first = head["seen"][0][0], head["plain"][0]
    head["seen"][0][0], head["plain"][0] = first, name


CHANGES: dict[str, Callable[[dict[str, Any], dict[str, Any]], object]] = {
    "a cell that is not there": lambda head, _: head["several"].append(10**6),
    "a cell below none": lambda head, _: head["several"].insert(0, -1),
    "cells in no order": lambda head, _: head["several"].reverse(),
    "a draw that is not there": lambda head, _: head["groups"][0][1].append(99),
    "a draw twice": lambda head, _: head["groups"][0][1].append(head["groups"][0][1][0]),
    "a part without draws": lambda head, _: head["groups"].append([0, []]),
    "a part of no cell": lambda head, _: head["groups"].append([10**6, [0]]),
    "no parts": lambda head, _: head["groups"].clear(),
    "words for numbers": lambda head, _: head.update(several="abc"),
    "an element that is not there": lambda head, _: head["against_ohm"].update(W99=1.0),
    "ohms below none": lambda head, _: head["against_ohm"].update(W1=-1.0),
    "ohms that are no number": lambda head, _: head["against_ohm"].update(W1=math.nan),
    "nothing works against anything": lambda head, _: head["against_ohm"].clear(),
    "a check never read": lambda head, _: head["offered"].append("nowhere"),
    "a check that is no word": lambda head, _: head["offered"].append(7),
    "levels too many": lambda head, _: head["seen"].append(["more", 3]),
    "levels below none": lambda head, _: head["seen"].append(["more", -3]),
    "one reading left out": lambda head, _: head["plain"].pop(),
    "another name": lambda head, _: head.update(name="other"),
    "a list for a head": lambda head, _: head.clear(),
    "a mean that is no number": lambda _, arrays: arrays["mean"].__setitem__((0, 0), math.nan),
    "a spread below none": lambda _, arrays: arrays["noise"].__setitem__((0, 0), -1.0),
    "chances above one": lambda _, arrays: arrays["levels"].__setitem__((0, 0), 7.0),
    "a row too few": lambda _, arrays: arrays.update(mean=arrays["mean"][:, 1:]),
    "all rows one too few": lambda _, arrays: arrays.update(
        {name: arrays[name][:, 1:] for name in ("mean", "noise", "moving")},
        levels=arrays["levels"][1:]),
    "whole numbers in boxes": lambda _, arrays: arrays.update(mean=arrays["mean"].astype("U9")),
    "a look called a voltage": swapped,
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_a_file_out_of_range_is_solved_anew(
    tmp_path: Path, cache: Path, change: Callable[[dict[str, Any], dict[str, Any]], object]
) -> None:
    first = asked(tmp_path)
    file = kept_file(cache)
    rewritten(file, change)
    file.chmod(0o600)
    assert asked(tmp_path) == first


def test_a_file_of_another_circuit_is_solved_anew(tmp_path: Path) -> None:
    one, other = (read_circuit_text(MOTOR.replace("current: 6 A", f"current: {amps} A"))
                  for amps in (6, 7))
    table_cache.keep(CircuitPlant(one), tmp_path)
    kept_file(tmp_path).rename(tmp_path / f"{table_cache.digest_of(other)}.npz")
    assert not table_cache.plant_of(other, tmp_path).from_kept


def test_a_kept_file_is_taken_over(tmp_path: Path) -> None:
    circuit = read_circuit_text(MOTOR)
    table_cache.keep(CircuitPlant(circuit), tmp_path)
    assert table_cache.plant_of(circuit, tmp_path).from_kept


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="this system does not tell who may write")
def test_a_file_that_others_may_write_is_no_file(tmp_path: Path) -> None:
    circuit = read_circuit_text(MOTOR)
    table_cache.keep(CircuitPlant(circuit), tmp_path)
    kept_file(tmp_path).chmod(0o662)
    assert not table_cache.plant_of(circuit, tmp_path).from_kept


def test_what_a_killed_process_left_is_taken_away(tmp_path: Path) -> None:
    for name, age_s in (("old", 7200), ("young", 60)):
        left = tmp_path / f".new-{name}"
        left.write_bytes(b"half")
        then = time.time() - age_s
        os.utime(left, (then, then))
    table_cache.keep(CircuitPlant(read_circuit_text(MOTOR)), tmp_path)
    # the young one may be another process that is writing now
    assert [file.name for file in tmp_path.glob(".new-*")] == [".new-young"]


def test_whatever_changes_a_prediction_changes_the_name(monkeypatch: pytest.MonkeyPatch) -> None:
    circuit = read_circuit_text(MOTOR)
    name = table_cache.digest_of(circuit)
    assert table_cache.digest_of(read_circuit_text(MOTOR)) == name
    others = [read_circuit_text(MOTOR.replace("current: 6 A", "current: 6.1 A")),
              read_circuit_text(MOTOR.replace("W3, S1.2, M1.1, 2.5 mm2", "W3, S1.2, M1.1, 4 mm2")),
              dataclasses.replace(circuit, temperature_c=21.0)]
    monkeypatch.setattr(table_cache, "_OURS", ("circuit",))
    names = {name, table_cache.digest_of(circuit), *map(table_cache.digest_of, others)}
    assert len(names) == 5


def test_sets_are_told_in_one_order() -> None:
    words = {"".join(table_cache._words(frozenset(order)))
             for order in (("a", "b", "c"), ("c", "b", "a"))}
    assert words == {"'a''b''c'>"}


def test_what_stands_inside_what_is_told_apart() -> None:
    alike = [((1,), 2), ((1, 2),), (1, 2), (frozenset({1}), 2), (frozenset({1, 2}),),
             {"a": {"b": 1}, "c": 2}, {"a": {"b": 1, "c": 2}}]
    assert len({"".join(table_cache._words(one)) for one in alike}) == len(alike)


def test_only_the_newest_files_are_left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(table_cache, "_MOST_FILES", 2)
    for amps in (5, 6, 7):
        circuit = read_circuit_text(MOTOR.replace("current: 6 A", f"current: {amps} A"))
        plant = table_cache.plant_of(circuit, tmp_path)
        table_cache.keep(plant, tmp_path)
    assert len(list(tmp_path.glob("*.npz"))) == 2
    assert not list(tmp_path.glob(".new-*"))


def test_a_folder_that_cannot_be_written_keeps_nothing(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    plant = table_cache.plant_of(read_circuit_text(MOTOR), tmp_path / "file")
    table_cache.keep(plant, tmp_path / "file")
    assert (tmp_path / "file").read_text(encoding="utf-8") == "in the way"


def test_the_folder_is_the_systems_own(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert table_cache.cache_folder() == tmp_path / "loomwright" / "predictions"
    monkeypatch.delenv("XDG_CACHE_HOME")
    monkeypatch.setenv("HOME", str(tmp_path))
    assert table_cache.cache_folder() == tmp_path / ".cache" / "loomwright" / "predictions"
