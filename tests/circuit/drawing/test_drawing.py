"""The drawing of the demo circuit and of small circuits made for one rule each."""

import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from importlib import resources
from pathlib import Path

import pytest

from loomwright.circuit.drawing import DRAWING_CSS, DrawingOptions, draw_circuit, lay_out
from loomwright.circuit.expressions import Expression
from loomwright.circuit.model import (
    Circuit,
    ControllerInput,
    ControllerOutput,
    PartReading,
    PointReading,
    StateResult,
)
from loomwright.circuit.reader import read_circuit_text
from tests.circuit.drawing.generator import Builder

SVG = "{http://www.w3.org/2000/svg}"
TRUE = Expression("true")


@pytest.fixture(scope="module")
def demo() -> Circuit:
    file = resources.files("loomwright") / "demo" / "tailgate_lock.yaml"
    return read_circuit_text(file.read_text(encoding="utf-8"))


def lamp_circuit(loose: bool = False, label: str = "") -> Circuit:
    build = Builder(1)
    battery, fuse = build.part("BAT", "battery", ("+", "-")), build.part("F", "fuse")
    lamp, earth = build.part("H", "lamp"), build.part("E", "earth", ("",))
    build.wire(f"{battery}.+", f"{fuse}.1")
    build.wire(f"{fuse}.2", f"{lamp}.1")
    build.wire(f"{lamp}.2", None if loose else earth)
    if label:
        parts = build.parts
        parts[lamp] = type(parts[lamp])(lamp, "lamp", ("1", "2"), label=label)
    return build.circuit()


def state_of(circuit: Circuit, volts: dict[str, PointReading]) -> StateResult:
    return StateResult(
        "on", volts, {"W1": 0.875, "W2": 0.0, "W3": 0.0}, {"F1": PartReading("blown", 0.0)},
        {}, {},
    )


def words(svg: str) -> str:
    return " ".join(text.strip() for text in ET.fromstring(svg).itertext())


def group(svg: str, attribute: str, value: str) -> ET.Element:
    found = [g for g in ET.fromstring(svg).iter(f"{SVG}g") if g.get(attribute) == value]
    assert len(found) == 1
    return found[0]


def test_demo_has_every_wire_with_area_and_colour_in_words(demo: Circuit) -> None:
    text = words(draw_circuit(demo))
    assert all(re.search(rf"\b{wire}\b", text) for wire in demo.wires)
    assert "W20 0.75 YE" in re.sub(r"\s+", " ", text)


def test_demo_draws_each_part_where_it_belongs(demo: Circuit) -> None:
    layout = lay_out(demo)
    elements = [s.element for s in layout.symbols]
    assert sorted(e for e in elements if e[0] == "K") == [
        "K3.coil", "K3.contact", "K4.coil", "K4.contact"]
    assert sorted(e for e in elements if e[0] == "X") == ["X1.1", "X1.2", "X1.3", "X1.4"]
    assert {link.part for link in layout.links} == {"K3", "K4"}
    assert {p.id for p in layout.points} == set(demo.points())


def test_current_runs_down_from_supply_to_body(demo: Circuit) -> None:
    y = {p.id: p.y for p in lay_out(demo).points}
    down = ["BAT.+", "F1.1", "F1.2", "SP1", "K3.30", "K3.87", "SP2", "F13.1", "X1.1a", "S4.1",
            "X1.2b", "X1.2a", "ECU.11", "ECU.31", "X1.3a", "Y1.1", "Y1.2", "SP3", "E2"]
    assert [y[p] for p in down] == sorted(y[p] for p in down)


def test_high_side_outputs_leave_below_and_low_side_outputs_and_inputs_are_on_top(
    demo: Circuit,
) -> None:
    (box,) = lay_out(demo).boxes
    top = {point for point, _, on_top in box.pins if on_top}
    assert top == {"ECU.1", "ECU.11", "ECU.12", "ECU.13", "ECU.33"}


def test_demo_has_no_lane_across_a_foreign_track(demo: Circuit) -> None:
    layout = lay_out(demo)
    crossings = [
        (lane.node, run.element)
        for lane in layout.lanes for run in layout.runs
        if run.y0 < lane.y < run.y1 and lane.x0 < run.x < lane.x1
    ]
    assert crossings == []


def test_hit_circles_of_the_demo_are_48_px_wide(demo: Circuit) -> None:
    assert min(p.hit for p in lay_out(demo).points) == 24


def test_no_text_is_smaller_than_12_px(demo: Circuit) -> None:
    sizes = re.findall(r'font-size[:=]"?([0-9.]+)', draw_circuit(demo) + DRAWING_CSS)
    assert len(sizes) >= 3
    assert min(float(size) for size in sizes) >= 12


def test_points_are_buttons_with_volts_in_words() -> None:
    circuit = lamp_circuit()
    result = state_of(circuit, {
        "F1.1": PointReading(23.94), "F1.2": PointReading(0.004), "H1.1": PointReading(3.2, True),
        "H1.2": PointReading(-1.26),
    })
    svg = draw_circuit(circuit, result)
    point = group(svg, "data-point", "F1.1")
    assert (point.get("role"), point.get("tabindex")) == ("button", "0")
    assert point.get("aria-label") == "Point F1.1, 23.9 volts"
    assert "live" in (point.get("class") or "")
    assert "".join(point.itertext()) == "123.9 V"  # pin 1, then volts
    assert "0.00 V" in "".join(group(svg, "data-point", "F1.2").itertext())
    floating = group(svg, "data-point", "H1.1")
    assert "float" in "".join(floating.itertext())
    assert floating.get("aria-label") == "Point H1.1, floating"
    assert "−1.3 V" in "".join(group(svg, "data-point", "H1.2").itertext())


def test_wires_say_their_state_and_carry_their_amps() -> None:
    circuit = lamp_circuit()
    result = state_of(circuit, {
        "BAT1.+": PointReading(24.0), "F1.1": PointReading(23.9), "F1.2": PointReading(0.0, True),
        "H1.1": PointReading(0.0, True), "H1.2": PointReading(12.0), "E1": PointReading(0.0),
    })
    svg = draw_circuit(circuit, result)
    fed = group(svg, "data-wire", "W1")
    assert fed.get("class") == "wire live carrying"
    assert fed.get("data-amps") == "0.875"
    assert "0.875 A" not in (fed.get("class") or "")
    assert "875 mA" in (fed.findtext(f"{SVG}title") or "")
    assert group(svg, "data-wire", "W2").get("class") == "wire floating"
    assert "blown" in "".join(group(svg, "data-element", "F1").itertext())


def test_only_numbers_change_with_readings() -> None:
    circuit = lamp_circuit()
    one = draw_circuit(circuit, state_of(circuit, {"F1.1": PointReading(23.9)}))
    two = draw_circuit(circuit, state_of(circuit, {"F1.1": PointReading(21.4)}))
    assert one.replace("23.9", "21.4") == two
    assert lay_out(circuit) is lay_out(circuit.with_faults(()))


def test_loose_end_is_a_stub_that_says_so() -> None:
    circuit = lamp_circuit(loose=True)
    svg = draw_circuit(circuit)
    wire = group(svg, "data-wire", "W3")
    assert "end not known" in "".join(wire.itertext())
    assert wire.find(f"{SVG}circle[@class='open-end']") is not None


def test_names_from_the_file_are_escaped() -> None:
    svg = draw_circuit(lamp_circuit(label="<script>x"), None, DrawingOptions(title='"><b>&'))
    assert "<script" not in svg
    assert "&lt;script&gt;x" in svg
    assert ET.fromstring(svg).get("aria-label") == '"><b>&'


def test_page_drawing_has_no_style_and_a_file_has_one_without_variables(demo: Circuit) -> None:
    page = draw_circuit(demo)
    alone = draw_circuit(demo, None, DrawingOptions(standalone=True))
    assert "<style" not in page
    assert "style=" not in page
    assert alone.count("<style>") == 1
    assert "var(" not in alone
    outside = re.findall(r"(?:href|url)[=(]|@import|https?://(?!www\.w3\.org/2000/svg)", alone)
    assert outside == []


def test_chosen_next_and_suspects_are_said_in_words() -> None:
    options = DrawingOptions(chosen_points=frozenset({"F1.2"}), next_points=frozenset({"H1.1"}),
                             suspects=frozenset({"W2", "H1"}))
    svg = draw_circuit(lamp_circuit(), None, options)
    assert group(svg, "data-point", "F1.2").get("aria-label") == "Point F1.2, chosen"
    chosen = group(svg, "data-point", "H1.1")
    assert chosen.get("aria-label") == "Point H1.1, next check"
    assert "".join(chosen.itertext()) == "1next"
    assert "W2 suspect" in "".join(group(svg, "data-wire", "W2").itertext())
    assert "suspect" in "".join(group(svg, "data-element", "H1").itertext())


def test_only_the_asked_for_tracks_are_drawn(demo: Circuit) -> None:
    only = frozenset({"W21", "X1.3", "W22", "Y1", "W23", "SP3", "W24", "E2", "ECU"})
    layout = lay_out(demo, only)
    assert {s.element for s in layout.symbols} == {"X1.3", "Y1"}
    assert len(layout.tracks) == 1
    root = ET.fromstring(draw_circuit(demo, None, DrawingOptions(only_elements=only)))
    wires = {g.get("data-wire") for g in root.iter() if g.get("data-wire")}
    assert wires == {"W21", "W22", "W23", "W24"}


def test_an_empty_circuit_is_an_empty_drawing() -> None:
    svg = draw_circuit(Circuit("Empty", 12.0, {}, {}, {}, {}))
    assert ET.fromstring(svg).get("aria-label") == "Empty, 12 V"


def controller_circuit(sensor: bool) -> Circuit:
    build = Builder(2)
    battery, earth = build.part("BAT", "battery", ("+", "-")), build.part("E", "earth", ("",))
    ecu = build.part(
        "A", "controller", ("1", "2", "11", "31", "32"), supply="1", earth="2",
        inputs=(ControllerInput("temp", "11", "up"),),
        outputs=(ControllerOutput("a", "31", "high side", TRUE),
                 ControllerOutput("b", "32", "low side", TRUE)),
    )
    build.wire(f"{battery}.+", f"{ecu}.1")
    build.wire(f"{ecu}.2", earth)
    if sensor:
        part = build.part("R", "resistor")
        build.wire(f"{ecu}.31", f"{part}.1")
        build.wire(f"{part}.2", f"{ecu}.11")
    else:
        build.wire(f"{ecu}.31", f"{ecu}.32")
    return build.circuit()


@pytest.mark.parametrize("sensor", [True, False])
def test_paths_from_a_controller_back_to_itself_are_drawn(sensor: bool) -> None:
    circuit = controller_circuit(sensor)
    layout = lay_out(circuit)
    labels = [label.target for label in layout.labels if label.role == "wire"]
    assert sorted(labels) == sorted(circuit.wires)
    assert any("no wire" in label.lines for label in layout.labels), "pin 11 or 32 has none"


def test_battery_post_wired_to_an_earth_has_no_strap(demo: Circuit) -> None:
    build = Builder(3)
    battery, earth = build.part("BAT", "battery", ("+", "-")), build.part("E", "earth", ("",))
    build.wire(f"{battery}.-", earth)
    assert not [r for r in lay_out(build.circuit()).runs if r.kind == "strap"]
    assert [r.nodes for r in lay_out(demo).runs if r.kind == "strap"] == [("BAT.-", "body")]


def test_same_circuit_gives_the_same_drawing_in_every_process() -> None:
    program = (
        "import hashlib; from tests.circuit.drawing.generator import random_circuit as make;"
        "from loomwright.circuit.drawing import draw_circuit as draw;"
        "text = ''.join(draw(make(seed, 30)) for seed in range(4));"
        "print(hashlib.sha256(text.encode()).hexdigest())"
    )
    top = Path(__file__).parents[3]
    paths = os.pathsep.join([str(top / "src"), str(top)])
    sums = {
        subprocess.run(
            [sys.executable, "-c", program], cwd=top, capture_output=True, text=True, check=True,
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": paths},
        ).stdout
        for seed in ("1", "2", "3")
    }
    assert len(sums) == 1


def test_changeover_relay_has_two_fixed_contacts_and_rests_on_87a() -> None:
    build = Builder(4)
    battery, earth = build.part("BAT", "battery", ("+", "-")), build.part("E", "earth", ("",))
    relay = build.part("K", "relay", ("30", "85", "86", "87", "87a"))
    for near, far in ((f"{battery}.+", "86"), (f"{battery}.+", "30"), (earth, "85")):
        build.wire(near, f"{relay}.{far}")
    for pin in ("87", "87a"):
        lamp = build.part("H", "lamp")
        build.wire(f"{relay}.{pin}", f"{lamp}.1")
        build.wire(f"{lamp}.2", earth)
    circuit = build.circuit()
    (box,) = lay_out(circuit).boxes
    xs = {point: x for point, x, _ in box.pins}
    contact = group(draw_circuit(circuit), "data-element", "K1")
    path = contact.find(f"{SVG}path").get("d")  # type: ignore[union-attr]
    strokes = [stroke for stroke in path.split("M") if stroke]
    assert len(strokes) == 3, "the blade's pivot and two fixed contacts"
    (blade,) = [stroke for stroke in strokes if "L" in stroke]
    assert float(blade.split()[0]) == pytest.approx(xs["K1.87a"], abs=0.1)  # printed to 0.1 px


def test_a_suspect_output_is_named_in_its_controller(demo: Circuit) -> None:
    svg = draw_circuit(demo, None, DrawingOptions(suspects=frozenset({"ECU.lock", "X1.3"})))
    assert "ECU, suspect: lock" in "".join(group(svg, "data-element", "ECU").itertext())
    assert "suspect" in (group(svg, "data-element", "X1.3").get("class") or "")
    assert "suspect" not in (group(svg, "data-element", "X1.2").get("class") or "")
