"""Runs ngspice on a netlist that Loomwright wrote, and gives the volts of its nodes."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Iterable
from pathlib import Path

__all__ = ["node_volts"]


def node_volts(netlists: Iterable[str], ngspice: str, folder: Path) -> list[dict[str, float]]:
    """Return the volts of every node of each netlist, all solved in one process."""
    files = []
    for number, netlist in enumerate(netlists):
        file = folder / f"circuit{number}.cir"
        file.write_text(netlist.replace("\n.op\n", "\n"), encoding="utf-8")
        files.append(file)
    control = ["all", ".control", "set numdgt=12"]
    for number, file in enumerate(files):
        control += [f"source {file.name}", "op", f"echo circuit {number}", "print all",
                    "destroy all", "remcirc"]
    batch = folder / "batch.cir"
    batch.write_text("\n".join([*control, ".endc", ".end", ""]), encoding="utf-8")
    answer = subprocess.run([ngspice, "-b", batch.name], capture_output=True, text=True,
                            timeout=120, check=False, cwd=folder)
    pieces = re.split(r"^circuit \d+$", answer.stdout, flags=re.MULTILINE)[1:]
    assert len(pieces) == len(files), answer.stdout[-2000:] + answer.stderr[-2000:]
    return [{name: float(value) for name, value in re.findall(r"^(n_\S+) = (\S+)$", piece,
                                                               re.MULTILINE)} for piece in pieces]
