"""ngspice beside the batch solver: its shared library in this process, and one process per run."""

from __future__ import annotations

import ctypes
import ctypes.util
import re
import subprocess
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from loomwright.circuit.exchange import node_names, spice_text
from loomwright.circuit.model import BODY, Circuit, Fault

__all__ = ["Alteration", "Session", "alterable", "loosened", "run_once", "session_netlist"]

_SEND = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_char_p, ctypes.c_int, ctypes.c_void_p)
_EXIT = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_int, ctypes.c_bool, ctypes.c_bool, ctypes.c_int,
                         ctypes.c_void_p)
_DATA = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_void_p, ctypes.c_int, ctypes.c_int,
                         ctypes.c_void_p)
_INIT = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_void_p, ctypes.c_int, ctypes.c_void_p)
_BACK = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_bool, ctypes.c_int, ctypes.c_void_p)


class _Vector(ctypes.Structure):
    _fields_ = (("name", ctypes.c_char_p), ("type", ctypes.c_int), ("flags", ctypes.c_short),
                ("real", ctypes.POINTER(ctypes.c_double)), ("complex", ctypes.c_void_p),
                ("length", ctypes.c_int))


@dataclass(frozen=True)
class Alteration:
    """The commands that make a fault of a loaded netlist, and those that mend it."""

    make: str
    mend: str


class Session:
    """ngspice's shared library with one netlist loaded, altered and solved again and again."""

    def __init__(self, netlist: str) -> None:
        name = ctypes.util.find_library("ngspice") or "libngspice.so.0"
        self.library = ctypes.CDLL(name)  # OSError where it is not installed
        self.messages: list[str] = []
        self.callbacks = (_SEND(self._hear), _SEND(lambda *_: 0), _EXIT(lambda *_: 0),
                          _DATA(lambda *_: 0), _INIT(lambda *_: 0), _BACK(lambda *_: 0))
        self.library.ngSpice_Init(*self.callbacks, None)
        self.library.ngGet_Vec_Info.restype = ctypes.POINTER(_Vector)
        lines = [line.encode() for line in netlist.splitlines() if line]
        self.library.ngSpice_Circ((ctypes.c_char_p * (len(lines) + 1))(*lines, None))
        self.command("op")

    def _hear(self, text: bytes, _number: int, _given: object) -> int:
        self.messages.append(text.decode(errors="replace"))
        return 0

    def command(self, text: str) -> None:
        """Give one command."""
        self.library.ngSpice_Command(text.encode())

    def volts(self, node: str) -> float:
        """Return a node's volts of the last operating point."""
        found = self.library.ngGet_Vec_Info(node.encode())
        return float(found.contents.real[0]) if found else float("nan")

    def solve(self, change: Alteration, nodes: Sequence[str]) -> tuple[float, list[float]]:
        """Return processor seconds for a change, its operating point and back, and nodes' volts."""
        self.messages.clear()
        began = time.process_time()
        self.command(change.make)
        self.command("op")
        found = [self.volts(node) for node in nodes]
        self.command(change.mend)
        self.command("destroy all")
        spent = time.process_time() - began
        failed = any("converge" in text or "singular" in text for text in self.messages)
        return spent, [float("nan")] * len(nodes) if failed else found


def loosened(netlist: str) -> str:
    """Return a netlist solved no more closely than the 0.1 % that is asked for: ngspice's best.

    Its own default (reltol 1e-3) would be off by 12 mV on a 12 V rail.
    """
    return re.sub(r"^\.options .*$", ".options reltol=1e-4 vntol=1e-6 abstol=1e-9 itl1=500",
                  netlist, flags=re.MULTILINE)


def session_netlist(circuit: Circuit, state: str, faults: Sequence[Fault]) -> str:
    """Return the netlist with a resistor of no effect wherever a fault is to short a point."""
    nodes = node_names(circuit)
    shorts = [f"RSH{number} {nodes[fault.element]} {nodes[BODY]} 1e12"
              for number, fault in enumerate(faults) if fault.kind == "short-to-earth"]
    return spice_text(circuit, state).replace(".options", "\n".join([*shorts, ".options"]), 1)


def alterable(netlist: str, faults: Sequence[Fault]) -> dict[int, Alteration]:
    """Return, by the fault's number, those that are one resistor altered."""
    ohms = {name.lower(): float(value) for name, value in
            re.findall(r"^(R\S+) \S+ \S+ (\S+)$", netlist, re.MULTILINE)}
    by_word = {re.sub(r"^r\d+_", "", name): name for name in ohms}
    found = {}
    for number, fault in enumerate(faults):
        name = by_word.get(fault.element.lower())
        if fault.kind == "short-to-earth":
            found[number] = Alteration(f"alter rsh{number} = {fault.ohms}",
                                       f"alter rsh{number} = 1e12")
        elif name is not None and fault.kind in {"open", "stuck-open", "high-resistance"}:
            more = 1e12 if fault.ohms is None else fault.ohms
            found[number] = Alteration(f"alter {name} = {ohms[name] + more:.12g}",
                                       f"alter {name} = {ohms[name]:.12g}")
    return found


def run_once(netlist: str) -> tuple[float, dict[str, float]]:
    """Return seconds of one ngspice process for one netlist, and its nodes' volts."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "circuit.cir"
        control = ".control\nset numdgt=12\nop\nprint all\n.endc\n.end"
        file.write_text(netlist.replace(".op\n.end", control), encoding="utf-8")
        began = time.perf_counter()
        answer = subprocess.run(["ngspice", "-b", file.name], cwd=folder, capture_output=True,
                                text=True, check=False, timeout=300)
        spent = time.perf_counter() - began
    return spent, {name: float(value) for name, value in
                   re.findall(r"^(n_\S+) = (\S+)$", answer.stdout, re.MULTILINE)}
