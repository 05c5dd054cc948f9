"""Write docs/templates.md, the list of template circuits, from the templates themselves.

With `--separation` it also writes the list of faults that no reading shows or tells apart, which
a person reviews before it is committed: tests/circuit/templates/inseparable.yaml. Template names
after it leave all others in the list as they are.
"""

from __future__ import annotations

import sys
from pathlib import Path

import yaml

from loomwright.circuit.plant import CircuitPlant
from loomwright.circuit.reader import read_circuit_text
from loomwright.circuit.templates import Template, template, template_names, template_text
from loomwright.circuit.templates.separable import separation_of

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "templates.md"
REVIEWED = ROOT / "tests" / "circuit" / "templates" / "inseparable.yaml"
_TOP = """# Template circuits

<!-- written by tools/build_template_page.py -->

A template is a whole circuit with values to fill in. `loomwright template` lists them, and
`loomwright template horn --set system=24V --set fuse=10A -o horn.yaml` writes a plain circuit
file, to be changed like any other. What is not set has the value shown here.

All lengths, areas, ratings and loads are assumed by us, and no circuit is that of a make: put in
what the vehicle has. In the healthy circuit every state does what its `should` says, no fuse
blows, and from battery post to load at most 0.7 V are lost at 12 V and 1.4 V at 24 V (common
practice: 0.5 V on the feed side and 0.2 V on the earth side, in proportion to the system).

Last stands which single faults no reading on offer shows, and which none tells apart, each in its
severest form; a test keeps the list current. All others differ from a healthy circuit and from one
another. What cannot be told apart is named together by `suspects`, and a look or a pulled plug
decides.

"""


def _defaults(found: Template, name: str) -> str:
    values = found.parameters[name].defaults
    if len(set(values.values())) == 1:
        return next(iter(values.values()))
    return ", ".join(f"{value} ({system})" for system, value in values.items())


def _apart(kept: dict[str, list[str]]) -> list[str]:
    """Return what no reading shows or tells apart, in words; nothing where all is told."""
    told = []
    if kept["hidden"]:
        told.append("Not shown by any reading: " + ", ".join(
            f"`{one}`" for one in kept["hidden"]) + ".")
    if kept["alike"]:
        told.append("Not told apart: " + "; ".join(
            ", ".join(f"`{one}`" for one in group.split(" ")) for group in kept["alike"]) + ".")
    return ["", " ".join(told)] if told else []


def _section(found: Template, kept: dict[str, list[str]]) -> str:
    """Return one template's section."""
    lines = [f"### {found.name}", "", f"{found.title}. {found.about}", ""]
    if found.caution:
        lines += [f"Caution: {found.caution}", ""]
    lines += ["| parameter | default | meaning |", "|---|---|---|",
              f"| `system` | {found.systems[0]} | one of {', '.join(found.systems)} |"]
    lines += [f"| `{name}` | {_defaults(found, name)} | {found.parameters[name].meaning} |"
              for name in found.parameters]
    return "\n".join([*lines, *_apart(kept)])


def page() -> str:
    """Return the page."""
    kept = yaml.safe_load(REVIEWED.read_text("utf-8"))
    groups: dict[str, list[Template]] = {}
    for name in template_names():
        found = template(name)
        groups.setdefault(found.group, []).append(found)
    shown = [f"## {group}\n\n" + "\n\n".join(
        _section(one, kept[one.name]) for one in members)
             for group, members in sorted(groups.items())]
    return _TOP + "\n\n".join(shown) + "\n"


def separation(name: str) -> dict[str, list[str]]:
    """Return what no reading on a template's circuit shows or tells apart."""
    found = separation_of(CircuitPlant(read_circuit_text(template_text(name), name)))
    return {"hidden": list(found.hidden), "alike": [" ".join(group) for group in found.alike]}


if __name__ == "__main__":
    if "--separation" in sys.argv:
        names = sys.argv[sys.argv.index("--separation") + 1:] or template_names()
        before = yaml.safe_load(REVIEWED.read_text("utf-8")) if REVIEWED.exists() else {}
        lists = {name: separation(name) if name in names else before[name]
                 for name in template_names()}
        note = "# Written by tools/build_template_page.py --separation; review every change.\n"
        REVIEWED.write_text(note + yaml.safe_dump(lists, sort_keys=True, width=100),
                            encoding="utf-8")
    PAGE.write_text(page(), encoding="utf-8")
