"""Every script of the gallery runs as it stands and says what it promises."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

REPOSITORY = Path(__file__).parents[2]
GALLERY = REPOSITORY / "docs" / "gallery"
# What the answer must hold, reasoned from the circuit and not copied from a run.
PROMISES = {
    "draw_svg.py": ["an SVG of"],
    "expected_volts.py": ["Y1 is on", "E2"],
    "find_drain.py": ["parked, F3 out       21 mA", "welded:K1"],
    "insert_fault.py": ["Y1.1", "healthy"],
    "prove_repair.py": ["holds: True"],
    "rank_suspects.py": ["mend W22", "next: ", "verdict: "],
    "why_output_off.py": ["shut"],
}


def test_every_script_has_a_promise():
    assert sorted(PROMISES) == sorted(one.name for one in GALLERY.glob("*.py"))


@pytest.mark.parametrize("name", PROMISES)
def test_the_script_runs(name, tmp_path):
    done = subprocess.run(
        [sys.executable, "-W", "error", str(GALLERY / name)], capture_output=True, text=True,
        timeout=60, cwd=tmp_path, check=False,
        env={**os.environ, "PYTHONPATH": str(REPOSITORY / "src")})
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    for words in PROMISES[name]:
        assert words in done.stdout
    assert list(tmp_path.iterdir()) == []


def test_the_drawing_is_written_where_asked(tmp_path):
    target = tmp_path / "lock.svg"
    subprocess.run([sys.executable, str(GALLERY / "draw_svg.py"), str(target)], check=True,
                   capture_output=True, timeout=60,
                   env={**os.environ, "PYTHONPATH": str(REPOSITORY / "src")})
    assert target.read_text(encoding="utf-8").lstrip().startswith("<svg")


def test_each_script_is_named_on_the_gallery_page():
    page = (GALLERY / "README.md").read_text(encoding="utf-8")
    assert all(f"]({name})" in page for name in PROMISES)
