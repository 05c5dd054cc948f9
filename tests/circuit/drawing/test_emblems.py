"""The emblem of a part of many pins: every such kind has one, and it keeps clear of the words."""

import re
import xml.etree.ElementTree as ET

import pytest

from loomwright.circuit.drawing import draw_circuit, lay_out
from loomwright.circuit.drawing.labels import text_width
from loomwright.circuit.drawing.symbols import EMBLEM_PX, emblem
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.reader import read_circuit_text
from loomwright.circuit.templates import template_names, template_text

SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize("kind", [
    "alternator", "can node", "controller", "dc-dc converter", "latching relay", "magneto",
    "proximity switch", "regulator rectifier", "selector", "sensor", "starter", "stator",
])
def test_a_kind_of_many_pins_is_no_empty_box(kind: str) -> None:
    assert kind in KINDS, "an emblem for a kind that no file can name"
    assert emblem(kind)


def test_no_emblem_for_a_kind_that_is_not_known() -> None:
    assert emblem("teapot") == ""


@pytest.mark.parametrize("name", template_names())
def test_emblems_stand_between_the_frame_and_the_words(name: str) -> None:
    circuit = read_circuit_text(template_text(name))
    boxes = {box.part: box for box in lay_out(circuit).boxes if box.framed}
    root = ET.fromstring(draw_circuit(circuit))
    found = set()
    for group in root.iter(f"{SVG}g"):
        drawn = [g for g in group.findall(f"{SVG}g") if g.get("class") == "emblem"]
        for part in drawn:
            box = boxes[str(group.get("data-part"))]
            at = re.fullmatch(r"translate\(([-\d.]+) ([-\d.]+)\)", str(part.get("transform")))
            assert at is not None
            x, y = float(at[1]), float(at[2])
            assert box.x0 < x - EMBLEM_PX / 2
            assert box.y0 < y - EMBLEM_PX / 2
            assert y + EMBLEM_PX / 2 < box.y1
            middle = (box.x0 + box.x1) / 2
            title = next(text for text in group.findall(f"{SVG}text")
                         if any(abs(float(t.get("x", "0")) - middle) < 0.06 for t in text))
            half = max(text_width((t.text or "").strip(), bold=t.get("class") == "name")
                       for t in title) / 2
            assert x + EMBLEM_PX / 2 <= middle - half + 0.1, "the emblem lies on the words"
            found.add(box.part)
    assert found == boxes.keys()
