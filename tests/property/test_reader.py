"""Whatever is typed, the reader answers with a circuit or with problems, never with a crash."""

from __future__ import annotations

import tempfile
from importlib import resources

import hypothesis.strategies as st
from hypothesis import given, settings

from loomwright.circuit.model import Circuit
from loomwright.circuit.reader import read_circuit, read_circuit_text
from loomwright.errors import FileProblemsError, UsageError

DEMO = resources.files("loomwright.demo").joinpath("tailgate_lock.yaml").read_text("utf-8")
LINES = DEMO.splitlines(keepends=True)
JUNK = st.sampled_from([
    ":", "- ", "{", "}", "[", "]", ",", "'", '"', "&a", "*a", "!!int", "|", ">", "#", "\t", "\n",
    "yes", "no", "unknown", "~", "1e999", "-0", "0x10", ".inf", "1_000", "not", "(", ")", " is ",
    "é", "Ω", "\u202e", "10 A", "1e400 ohm", "1e-320 mm2", "5 m**9", "7 V/0", "2 ((", "<<: ",
    "? ", "%", "@", "`", "E1", "BAT.-", "kind: ", "battery", "---", "...", "\r", "\x00",
])
EDIT = st.tuples(
    st.sampled_from(["delete", "double", "insert", "cut", "swap"]),
    st.integers(0, len(LINES) - 1), st.integers(0, 80), JUNK,
)


def outcome(text: str) -> Circuit | UsageError:
    try:
        return read_circuit_text(text)
    except UsageError as error:
        found = error
    problems = found.problems if isinstance(found, FileProblemsError) else ()
    lines = len(text.split("\n")) + text.count("\r")
    assert all(0 < problem.line <= lines + 1 for problem in problems)
    assert all(problem.column > 0 and problem.what for problem in problems)
    return found


def edited(edits: list[tuple[str, int, int, str]]) -> str:
    lines = list(LINES)
    for act, row, column, junk in edits:
        row %= len(lines)
        line = lines[row]
        if act == "delete" and len(lines) > 1:
            del lines[row]
        elif act == "double":
            lines.insert(row, line)
        elif act == "insert":
            lines[row] = line[:column] + junk + line[column:]
        elif act == "cut":
            lines[row] = line[:column] + junk
        else:
            lines[row], lines[-1] = lines[-1], lines[row]
    return "".join(lines)


@settings(max_examples=300)
@given(st.lists(EDIT, min_size=1, max_size=6))
def test_garbled_demo_never_crashes_the_reader(edits: list[tuple[str, int, int, str]]):
    found = outcome(edited(edits))
    assert isinstance(found, Circuit | UsageError)


@settings(max_examples=150)
@given(st.text(max_size=200))
def test_any_text_never_crashes_the_reader(text: str):
    assert isinstance(outcome(text), UsageError)


@settings(max_examples=150)
@given(st.integers(0, len(DEMO) - 1), st.text(max_size=20), st.integers(0, 40))
def test_random_text_inside_the_demo_never_crashes_the_reader(start: int, junk: str, cut: int):
    found = outcome(DEMO[:start] + junk + DEMO[start + cut:])
    assert isinstance(found, Circuit | UsageError)


@settings(max_examples=100)
@given(st.one_of(st.binary(max_size=300), st.binary(min_size=1, max_size=8).map(
    lambda junk: DEMO.encode()[:700] + junk + DEMO.encode()[700:])))
def test_any_bytes_never_crash_the_reader(raw: bytes):
    with tempfile.NamedTemporaryFile(suffix=".yaml") as stream:
        stream.write(raw)
        stream.flush()
        try:
            found: Circuit | UsageError = read_circuit(stream.name)
        except UsageError as error:
            found = error
    assert isinstance(found, Circuit | UsageError)


QUANTITY_KEYS = st.sampled_from(["24 ohm", "60 A", "10 A", "24 V", "16 mm2", "0.6 m", "3 min"])


@settings(max_examples=200)
@given(QUANTITY_KEYS, st.from_regex(r"[0-9.,eE+-]{0,6} ?[A-Za-z0-9*/^()µΩ° -]{0,10}",
                                    fullmatch=True))
def test_any_quantity_is_read_or_refused(old: str, new: str):
    found = outcome(DEMO.replace(old, f'"{new}"', 1))
    assert isinstance(found, Circuit | UsageError)
