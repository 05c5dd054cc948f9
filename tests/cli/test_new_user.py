"""What somebody new types wrong is answered with what it is and what to do; nothing is lost."""

from __future__ import annotations

import codecs
from pathlib import Path

import pytest

from tests.cli.lamp import LAMP, LampFiles
from tests.cli.running import run

# What stands in the file -> words of the answer.
FILES = {
    "a picture": (b"\x89PNG\r\n\x1a\n\x00", "no text, but a picture"),
    "UTF-16": (codecs.BOM_UTF16_LE + LAMP.encode("utf-16-le"), "UTF-16 text, not UTF-8"),
    "an older encoding": (LAMP.replace("Lamp", "L\xe4mp").encode("cp1252"), "'\xe4' would stand"),
    "a tab": (LAMP.replace("  F1:", "\tF1:").encode(), "a tab stands here"),
    "no space in braces": (LAMP.replace("{kind: lamp", "{kind:lamp").encode(),
                           "space is missing after the colon of 'kind:lamp'"),
    "no space before a brace": (LAMP.replace("F1: {", "F1:{").encode(),
                                "space is missing after the colon of 'F1:'"),
    "no space on its own line": (LAMP.replace("{kind: earth}", "\n    kind:earth").encode(),
                                 "Write 'kind: earth'."),
    "a decimal comma in braces": (LAMP.replace("power: 21 W", "power: 2,4 W").encode(),
                                  "The comma before '4 W' ends the value"),
    "a negative length": (LAMP.replace("1 m, BK", "-1 m, BK").encode(), "'-1 m' is out of range"),
    "a huge number": (LAMP.replace("10 A", "1e999 A").encode(), "is too large"),
    "a wrong unit": (LAMP.replace("2.5 mm2, 1 m, BK", "2.5 mm, 1 m, BK").encode(), "unit of mm2"),
}


@pytest.mark.parametrize("name", FILES)
def test_a_wrong_file_is_told_as_what_it_is(name: str, tmp_path: Path) -> None:
    data, words = FILES[name]
    (tmp_path / "lamp.yaml").write_bytes(data)
    said = run("check", tmp_path / "lamp.yaml")
    assert said.code == 2
    assert words in said.err
    assert len(said.err.splitlines()) == 2  # one problem, not its echoes, and what to do


@pytest.mark.parametrize("data", [codecs.BOM_UTF8 + LAMP.encode(),
                                  LAMP.replace("\n", "\r\n").encode()], ids=["mark", "CRLF"])
def test_what_other_editors_write_is_read(data: bytes, tmp_path: Path) -> None:
    (tmp_path / "lamp.yaml").write_bytes(data)
    said = run("check", tmp_path / "lamp.yaml")
    assert said.code == 0
    assert "5 parts, 4 wires, 2 states. No problems" in said.out


@pytest.mark.parametrize(("value", "words"), [
    ("99999 V", "more than any meter"), ("11,9 V", "The comma before '9 V' ends the value"),
    ("1e999 V", "too large")])
def test_a_reading_that_cannot_be_is_refused(value: str, words: str, lamp: LampFiles) -> None:
    lamp.readings.write_text(
        f"- {{state: lit, quantity: voltage, at: H1.1, value: {value}}}\n", encoding="utf-8")
    said = run("suspects", lamp.circuit, "--readings", lamp.readings)
    assert said.code == 2
    assert words in said.err


@pytest.mark.parametrize("words", [
    ("job", "list"), ("job", "export", 1), ("job", "csv", 1), ("backup", "jobs.zip")])
def test_a_mistyped_folder_begins_no_new_store(words: tuple[object, ...], tmp_path: Path) -> None:
    said = run(*words, "--data", tmp_path / "depto")
    assert said.code == 2
    assert "There are no jobs in" in said.err
    assert list(tmp_path.iterdir()) == []


def test_a_file_in_place_of_the_folder_is_told(lamp: LampFiles) -> None:
    said = run("job", "import", lamp.counts, "--data", lamp.circuit)
    assert "is a file, not a folder" in said.err


@pytest.mark.parametrize(("words", "told"), [
    (("job", "export", "x"), "'x' is not a whole number"),
    (("check", "lamp.yaml", "extra"), "argument (extra). See"),
    (("chek", "lamp.yaml"), "Did you mean 'check'?")])
def test_a_slip_of_the_keyboard_is_told_plainly(words: tuple[str, ...], told: str) -> None:
    said = run(*words)
    assert (said.code, told in said.err) == (2, True)


# --- -o ------------------------------------------------------------------------------------------

WRITERS = [
    ("draw", "CIRCUIT"), ("exchange", "spice", "CIRCUIT", "--state", "lit"),
    ("exchange", "wires", "CIRCUIT"), ("template", "horn"), ("learn", "COUNTS")]


@pytest.mark.parametrize("words", WRITERS)
def test_no_file_is_replaced_unasked(words: tuple[str, ...], lamp: LampFiles) -> None:
    names = {"CIRCUIT": lamp.circuit, "COUNTS": lamp.counts}
    asked = [names.get(word, word) for word in words]
    target = lamp.circuit.with_name("mine.txt")
    target.write_text("an hour of work", encoding="utf-8")
    said = run(*asked, "-o", target)
    assert said.code == 2
    assert said.err == (f"loomwright: '{target}' is there already; it was not touched. Choose "
                        "another name, or add --force to replace it.\n")
    assert target.read_text(encoding="utf-8") == "an hour of work"
    assert run(*asked, "-o", target, "--force").code == 0
    assert "an hour of work" not in target.read_text(encoding="utf-8")
    assert "is a folder" in run(*asked, "-o", lamp.circuit.parent).err


@pytest.mark.parametrize("read", ["circuit", "table"])
def test_what_was_read_is_not_written_over_even_by_force(read: str, lamp: LampFiles) -> None:
    table = lamp.circuit.with_name("wires.csv")
    assert run("exchange", "wires", lamp.circuit, "-o", table).code == 0
    target = {"circuit": lamp.circuit, "table": table}[read]
    before = target.read_bytes()
    said = run("exchange", "from-wires", table, "--into", lamp.circuit, "-o", target, "--force")
    assert said.code == 2
    assert "would overwrite the file that was read" in said.err
    assert target.read_bytes() == before
