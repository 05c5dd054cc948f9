"""`loomwright faults`: every single fault of a circuit."""

from __future__ import annotations

import click

from loomwright.cli import show
from loomwright.cli.options import circuit_file, json_option
from loomwright.service import bench

__all__ = ["command"]


@click.command("faults", short_help="List every fault considered, with id, prior and repair.")
@circuit_file
@json_option
def command(file: str, as_json: bool) -> None:
    """List every fault that Loomwright considers, with its id, prior probability and repair.

    The ids are accepted by --fault; a resistance may be given, high-resistance:W7:0.8 (ohm).
    """
    found = bench.list_faults(file)
    if as_json:
        show.emit_json([
            {"id": one.id, "element": one.element, "kind": one.kind, "ohms": one.ohms,
             "prior": one.prior, "repair": one.repair} for one in found])
        return
    show.table(("fault", "repair", "prior>", "source"), (
        (one.id, one.repair, f"{one.prior:.3g}", one.source) for one in found))
    show.line(f"{len(found)} faults. Priors are relative weights, not measured rates.")
