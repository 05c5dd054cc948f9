"""What the hand-written pages say is true of the program."""

from __future__ import annotations

import importlib
import pkgutil
import re
from pathlib import Path

import loomwright
from loomwright.circuit.reader import read_circuit_text
from loomwright.errors import LoomwrightError
from loomwright.units import parse_quantity

ROOT = Path(__file__).parents[2]
PAGE_OF_START = ROOT / "docs" / "getting_started.md"


def subclasses(member: type[Exception]) -> set[type[Exception]]:
    """Return all classes below a class."""
    return {one for child in member.__subclasses__() for one in {child, *subclasses(child)}}


def test_circuit_of_the_getting_started_page_has_no_problems() -> None:
    found = re.findall(r"```yaml\n(.*?)```", PAGE_OF_START.read_text(encoding="utf-8"), re.DOTALL)
    assert len(found) == 1
    circuit = read_circuit_text(found[0], "work_lamp.yaml")
    assert circuit.title == "Work lamp"
    assert len(circuit.wires) == 4


def test_every_error_class_is_on_the_errors_page() -> None:
    for module in pkgutil.walk_packages(loomwright.__path__, "loomwright."):
        if "__main__" not in module.name and "migrations" not in module.name:
            importlib.import_module(module.name)
    page = (ROOT / "docs" / "errors.md").read_text(encoding="utf-8")
    names = {member.__name__ for member in subclasses(LoomwrightError)}
    assert len(names) >= 8
    assert {name for name in names if page.count(name) < 2} == set()
    assert set(re.findall(r"`(\w+Error)`", page)) == names | {"LoomwrightError"}


def test_quantities_of_the_nomenclature_page_are_accepted() -> None:
    units = {
        "volt": "V", "ampere": "A", "ohm": "ohm", "watt": "W", "square millimetre": "mm2",
        "metre": "m", "minute": "min", "degree Celsius": "degC",
    }
    read = 0
    for line in (ROOT / "docs" / "nomenclature.md").read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if len(cells) == 4 and cells[1] in units:
            for typed in re.findall("`([^`]+)`", cells[3]):
                assert parse_quantity(typed, units[cells[1]]) > 0
                read += 1
    assert read == 11


def test_readme_opens_with_the_two_commands() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    commands = re.findall(r"^python3 run.*?(?=\s*#)", text, re.MULTILINE)
    assert commands == ["python3 run", "python3 run test"]
    assert "## Safety" in text
