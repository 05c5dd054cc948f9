"""A drawing sent once and then only its changes: put together it is the drawing as it is now."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from loomwright.circuit import read_circuit, solve
from loomwright.circuit.drawing import DrawingOptions, draw_circuit
from loomwright.web.drawings import Drawings, _children
from tests.service.depot_folder import TRUCK_7
from tests.web.depot_client import client_in

LOCK = Path("src/loomwright/demo/tailgate_lock.yaml")
HEAD = re.compile(r'<svg data-id="(\w+)" data-base="(\w+)" data-at="([\d ]*)"[^>]*>')


def drawn(state: str = "locking", options: DrawingOptions | None = None) -> str:
    circuit = read_circuit(LOCK)
    return draw_circuit(circuit, solve(circuit, state), options)


def changed(base: str, sent: str) -> str:
    """Return what a page has after it put the changes in, as its script does."""
    own, *children = _children(base)
    head = HEAD.match(sent)
    assert head
    for at, text in zip(head[3].split(), _children(sent)[1:], strict=True):
        children[int(at)] = text
    label = re.search(r'aria-label="[^"]*"', head[0])
    assert label
    return re.sub(r'aria-label="[^"]*"', label[0], own) + "".join(children) + "</svg>"


@pytest.mark.parametrize("other", [
    drawn("at rest"),
    drawn(options=DrawingOptions(chosen_points=frozenset({"S4.1"}), suspects=frozenset({"W7"})))],
    ids=["another state", "other marks"])
def test_changes_make_the_new_drawing_of_the_old(other: str) -> None:
    drawings, first = Drawings(), drawn()
    whole = drawings.to_send(first)
    name = re.search(r'data-id="(\w+)"', whole)
    assert name
    assert whole.replace(f' data-id="{name[1]}"', "", 1) == first
    sent = drawings.to_send(other, name[1])
    assert changed(first, sent) == other
    assert len(sent) < len(other)


def test_the_same_drawing_is_not_sent_again() -> None:
    drawings, first = Drawings(), drawn()
    name = re.search(r'data-id="(\w+)"', drawings.to_send(first))
    assert name
    sent = drawings.to_send(first, name[1])
    assert sent.endswith("></svg>")
    assert changed(first, sent) == first


@pytest.mark.parametrize("held", ["", "never-seen"])
def test_a_drawing_that_nobody_holds_is_sent_whole(held: str) -> None:
    assert "data-base" not in Drawings().to_send(drawn(), held)


def test_another_layout_is_sent_whole() -> None:
    drawings = Drawings()
    name = re.search(r'data-id="(\w+)"', drawings.to_send(drawn()))
    assert name
    only = drawn(options=DrawingOptions(only_elements=frozenset({"Y1"})))
    assert "data-base" not in drawings.to_send(only, name[1])


def test_the_page_sends_changes_to_whoever_names_the_drawing(tmp_path: Path) -> None:
    client = client_in(tmp_path)
    locking = f"/jobs/{TRUCK_7}?state=locking&quantity=voltage"
    whole = client.get(f"{locking}&at=X1.2b").text
    name = re.search(r'data-id="(\w+)"', whole)
    assert name
    asked = f"{locking}&at=S4.1"
    sent = client.get(asked, headers={"x-drawing": name[1]}).text
    assert f'data-base="{name[1]}"' in sent
    assert len(sent) < len(whole) / 2
    assert "data-base" not in client.get(asked).text
