"""Draws the comparison plots of the model pages: what Loomwright computes beside what others print.

Run by hand where matplotlib (`pip install matplotlib`) and ngspice are installed:
`PYTHONPATH=src:. python tools/build_plots.py`. The pictures are committed.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path

import matplotlib as mpl
import numpy as np
from matplotlib import pyplot as plt
from matplotlib.axes import Axes

from loomwright.circuit.batch import Variant, solve_batch
from loomwright.circuit.blowing import FUSE_SERIES, opening_time
from loomwright.circuit.laws import lamp_current
from loomwright.circuit.reader import read_circuit_text
from loomwright.data import table
from loomwright.data.conductors import wire_ohm_per_m
from tests.support.random_circuits import random_circuit, spice_volts

__all__ = ["build"]

FOLDER = Path(__file__).parent.parent / "docs" / "models" / "pictures"
mpl.rcParams.update({"svg.hashsalt": "loomwright", "font.size": 9, "axes.grid": True,
                     "grid.alpha": 0.3, "figure.figsize": (5.4, 3.2), "figure.autolayout": True,
                     "svg.fonttype": "none", "font.family": "DejaVu Sans"})


def _wires(axes: Axes) -> None:
    """Resistance x area of the law against every row of both published tables."""
    fine = np.geomspace(0.35, 240, 300)
    axes.semilogx(fine, [wire_ohm_per_m(a) * a * 1000 for a in fine], label="Loomwright, 20 degC")
    for name, label, mark in (("conductor_iso6722_flry", "ISO 6722 (S03)", "o"),
                              ("conductor_iec60228", "IEC 60228 class 5 plain (S01, S02)", "x")):
        rows = [row for row in table(name).rows if row.get("conductor_class", "5") == "5"
                and row.get("material", "plain copper") == "plain copper"
                and row["grade"] == "published"]
        areas = np.array([float(row["area_mm2"]) for row in rows])
        axes.plot(areas, areas * [float(row["max_ohm_per_km"]) for row in rows], mark, label=label)
    axes.axhline(17.241, color="0.5", ls=":", label="annealed copper, IEC 60028 (S20)")
    axes.set(xlabel="size, mm²", ylabel="resistance x area, ohm mm²/km")


def _lamp(axes: Axes) -> None:
    """The filament law against the published cold and hot ohms and the common exponent."""
    volts = np.geomspace(0.001, 3.2, 300)
    one = np.ones_like(volts)
    ohms = volts / lamp_current(volts, 4.80 * one, 0.350 * one, 3.0 * one)[0]
    axes.plot(volts, ohms, label="Loomwright")
    axes.loglog([0.001, 3.0], [0.350, 4.80], "o", label="OpenStax, College Physics 20.2")
    axes.plot(volts, 4.80 * (volts / 3.0) ** 0.45, ls=":", color="0.4",
              label="I ~ V^0.55 (common practice)")
    axes.set(xlabel="volts at a 3 V lamp (cold: drawn at 1 mV)", ylabel="ohm")


def _fuses(axes: Axes) -> None:
    """Times of a 10 A blade fuse from the table: its limits and what the law lies between."""
    text = ("loomwright: 1\ntitle: One fuse\nsystem: 12 V\nparts:\n  BAT: {kind: battery}\n"
            "  F1: {kind: fuse, rating: 10 A, type: blade}\n  E1: {kind: earth}\n"
            "  H1: {kind: lamp, power: 21 W}\nwires:\n  - {id: W1, from: BAT.+, to: F1.1}\n"
            "  - {id: W2, from: F1.2, to: H1.1}\n  - {id: W3, from: H1.2, to: E1}\n"
            "states: {on: {}}\n")
    fuse = read_circuit_text(text).parts["F1"]
    amps = np.geomspace(13.6, 80, 200)
    found = [opening_time(fuse, float(a)) for a in amps]
    axes.fill_between(amps / 10, [f.least_s if f else np.nan for f in found],
                      [f.most_s if f else np.nan for f in found], alpha=0.25,
                      label="Loomwright, least to most")
    rows = [r for r in table("fuse_time_current").rows if r["series"] == FUSE_SERIES["blade"]
            and r["least_s"] and r["most_s"]]
    share = [float(r["percent_of_rating"]) / 100 for r in rows]
    for key, mark in (("least_s", "^"), ("most_s", "v")):
        axes.plot(share, [float(r[key]) for r in rows], mark, color="C1",
                  label=f"table, {key[:-2]} (from memory)")
    axes.set(xscale="log", yscale="log", xlabel="current / rating", ylabel="seconds to open")


def _solver(axes: Axes) -> None:
    """Largest difference to ngspice in each of 60 random linear circuits."""
    ngspice = shutil.which("ngspice")
    if ngspice is None:
        raise SystemExit("ngspice is not installed")
    worst = []
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(60):
            circuit = random_circuit(seed)
            ours = solve_batch(circuit, "here", (Variant(),))
            theirs = spice_volts(circuit, ngspice, Path(folder))
            gaps = [abs(float(ours.volts[row, 0]) - theirs[name])
                    for name, row in ours.points.items() if name in theirs]
            worst.append(max(gaps) / max(abs(v) for v in theirs.values()))
    axes.semilogy(sorted(np.maximum(worst, 1e-16)), ".", label="largest difference / largest volts")
    axes.axhline(1e-6, color="C3", ls="--", label="what the tests allow")
    axes.set(xlabel="60 random linear circuits, sorted", ylabel="share of the largest volts")


PLOTS: dict[str, tuple[str, Callable[[Axes], None]]] = {
    "wires": ("Resistance of wires", _wires),
    "lamp": ("A filament's ohms", _lamp),
    "fuses": ("Time to open, blade fuse", _fuses),
    "ngspice": ("Loomwright beside ngspice", _solver),
}


def build() -> None:
    """Write every plot as SVG."""
    FOLDER.mkdir(exist_ok=True)
    for name, (title, draw) in PLOTS.items():
        figure, axes = plt.subplots()
        draw(axes)
        axes.set_title(title)
        axes.legend(fontsize=8)
        figure.savefig(FOLDER / f"{name}.svg", metadata={"Date": None})
        plt.close(figure)


if __name__ == "__main__":
    build()
