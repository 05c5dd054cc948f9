"""Sums and assumptions in words that add up for whoever reads them."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from loomwright.jobs.rates import Rates
from loomwright.service.bench import check_circuit
from loomwright.service.costs import Costs
from loomwright.service.money import Taxed
from loomwright.service.office_view import sum_lines

CIRCUIT = """loomwright: 1
system: 12 V
parts: {BAT: {kind: battery}, H1: {kind: lamp}}
wires:
  - [W1, BAT.+, H1.1]
  - [W2, H1.2, BAT.-, 1 mm2, 2 m, BN]
"""


def test_a_colour_nobody_gave_is_said_to_be_unknown(tmp_path: Path) -> None:
    path = tmp_path / "lamp.yaml"
    path.write_text(CIRCUIT, encoding="utf-8")
    assert "W1 colour unknown" in [one.text for one in check_circuit(str(path)).assumed]


@pytest.mark.parametrize(("minutes", "shown"), [("43.7", "43.7"), ("44", "44"), ("60.0", "60")])
def test_minutes_times_the_rate_give_the_labour_that_stands_beside_them(
    minutes: str, shown: str
) -> None:
    money = Decimal("65.55")
    costs = Costs((), Decimal(minutes), money, Decimal(0), 0,
                  Taxed(money, Decimal(0), money), "expected")
    name, _ = sum_lines(costs, Rates())[0]
    assert name.startswith(f"Labour, {shown} min at ")
