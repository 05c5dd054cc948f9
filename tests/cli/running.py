"""Runs the command, in this process or as a real one, and gives back what it said."""

from __future__ import annotations

import contextlib
import io
import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from loomwright.cli import main

__all__ = ["DEMO_CIRCUIT", "REPOSITORY", "Said", "run", "run_process"]

REPOSITORY = Path(__file__).parents[2]
DEMO_CIRCUIT = REPOSITORY / "src" / "loomwright" / "demo" / "tailgate_lock.yaml"


@dataclass(frozen=True, slots=True)
class Said:
    """What a command answered."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """Return stdout read as JSON."""
        return json.loads(self.out)


def run(*words: object) -> Said:
    """Run `loomwright` in this process."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main([str(word) for word in words])
    return Said(code, out.getvalue(), err.getvalue())


def run_process(*words: object, folder: Path | None = None) -> Said:
    """Run `loomwright` as a process of its own, as an outsider does."""
    done = subprocess.run(
        [sys.executable, "-m", "loomwright.cli", *(str(word) for word in words)],
        capture_output=True, text=True, timeout=60, cwd=folder, check=False,
        env={**os.environ, "PYTHONPATH": str(REPOSITORY / "src")})
    return Said(done.returncode, done.stdout, done.stderr)
