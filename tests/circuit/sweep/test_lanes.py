"""Numbers side by side, as compiled code has them."""

from __future__ import annotations

import ast
from pathlib import Path

import numpy as np
import pytest

numba = pytest.importorskip("numba")

from loomwright.circuit.sweep.curves import (  # noqa: E402
    exponential,
    law_in_lanes,
    logarithm,
)
from loomwright.circuit.sweep.devices import Devices, law_of  # noqa: E402
from loomwright.circuit.sweep.lanes import (  # noqa: E402
    LANES,
    choose,
    larger,
    load,
    magnitude,
    over,
    pick,
    smaller,
    spread,
    store,
)
from loomwright.circuit.sweep.rooms import Rooms  # noqa: E402


@numba.njit  # type: ignore[untyped-decorator]
def _worked(left, right, out):  # type: ignore[no-untyped-def]
    a, b = load(left, 1), load(right, 0)
    store(out, 0, a * b + spread(2.0))
    store(out, 1, (a - b) / spread(4.0))
    store(out, 2, larger(a, b))
    store(out, 3, smaller(a, b))
    store(out, 4, magnitude(a))
    return over(a, b), pick(a, 3)


def test_lanes_are_what_numpy_makes_of_them() -> None:
    dice = np.random.default_rng(1)
    left, right = dice.normal(size=(2, LANES)), dice.normal(size=(1, LANES))
    out = np.zeros((5, LANES))
    bits, third = _worked(left, right, out)
    a, b = left[1], right[0]
    # a fused product and sum rounds once where numpy rounds twice
    np.testing.assert_allclose(out[0], a * b + 2.0, rtol=1e-14)
    np.testing.assert_array_equal(out[1:], [(a - b) / 4.0, np.maximum(a, b), np.minimum(a, b),
                                            np.abs(a)])
    assert [bool(bits >> lane & 1) for lane in range(LANES)] == (a > b).tolist()
    assert third == a[3]


def test_what_is_no_number_counts_as_over() -> None:
    left, right = np.zeros((2, LANES)), np.zeros((1, LANES))
    left[1, 2] = np.nan
    bits, _ = _worked(left, right, np.zeros((5, LANES)))
    assert bits == 1 << 2


def test_compiled_code_on_disk_is_dropped_when_a_file_it_is_made_of_changes() -> None:
    from loomwright.circuit import sweep
    from loomwright.circuit.sweep.devices import sources
    from loomwright.circuit.sweep.kernel import solve_base, solve_variants

    folder = Path(sweep.__file__).parent
    stamped = {name for name, _ in sources()}
    assert {file.name for file in folder.glob("*.py")} | {"laws.py"} == stamped
    for work in (solve_base, solve_variants):
        assert work._cache._cache_file._source_stamp[1] == sources()
    # whatever compiled code takes in from elsewhere is one of those files
    for file in folder.glob("*.py"):
        text = file.read_text(encoding="utf-8")
        if "@inlined" not in text and "@compiled" not in text:
            continue
        taken = {node.module for node in ast.walk(ast.parse(text))
                 if isinstance(node, ast.ImportFrom) and node.module is not None
                 and node.module.startswith("loomwright")}
        assert taken
        assert {f"{module.rpartition('.')[2]}.py" for module in taken} <= stamped


@numba.njit  # type: ignore[untyped-decorator]
def _curved(volts, powers, out):  # type: ignore[no-untyped-def]
    for row in range(len(volts)):
        store(out[0], row, exponential(load(volts, row)))
        store(out[1], row, logarithm(load(powers, row)))
        store(out[2], row, choose(over(load(volts, row), spread(0.0)), spread(1.0),
                                  spread(2.0)))


def test_exponential_and_logarithm_are_right_to_the_last_digits() -> None:
    volts = np.concatenate([np.linspace(-690, 690, 400 * LANES),
                            np.linspace(-1, 1, 100 * LANES)]).reshape(-1, LANES)
    out = np.zeros((3, *volts.shape))
    powers = np.exp(volts)
    _curved(volts, powers, out)
    # a double has 2.2e-16 and a dozen terms are added up
    np.testing.assert_allclose(out[0], powers, rtol=1e-15)
    np.testing.assert_allclose(out[1], np.log(powers), rtol=5e-16, atol=3e-16)
    assert (out[2] == np.where(volts > 0, 1.0, 2.0)).all()


@numba.njit  # type: ignore[untyped-decorator]
def _beside(device, volts, lanes, one):  # type: ignore[no-untyped-def]
    for branch in range(len(device.law)):
        for row in range(volts.shape[1]):
            current, slope = law_in_lanes(device, branch, load(volts[branch], row))
            store(lanes[0, branch], row, current)
            store(lanes[1, branch], row, slope)
            for lane in range(LANES):
                one[0, branch, row, lane], one[1, branch, row, lane] = law_of(
                    device, branch, (device.ohm[branch], device.emf[branch],
                                     device.rated_a[branch], 0.0), volts[branch, row, lane])


def test_laws_in_lanes_are_those_of_one_number() -> None:
    count = 5  # lamp, diode, motor, seized motor, battery
    law = np.array([1, 2, 3, 3, 4])
    ohm = np.array([28.8, 0.04, 2.0, 2.0, 0.02])
    ones = np.ones(count)
    device = Devices(law, 12.0 * ones, 0.01 * ones, 0.5 * ones, 0 * ones, ohm, 12.6 * ones,
                     np.array([1.0, 1.0, 0.5, np.inf, 1.0]), 0 * ones,
                     np.full(count, -1, np.int8), np.ones(count, np.int8), np.arange(count))
    volts = np.tile(np.linspace(-20, 20, 64 * LANES).reshape(-1, LANES), (count, 1, 1))
    volts[1] /= 20  # a diode's knee
    lanes, one = np.zeros((2, *volts.shape)), np.zeros((2, *volts.shape))
    _beside(device, volts, lanes, one)
    # a diode's exponent is some twenty, so a last digit of the volts is twenty of the current
    np.testing.assert_allclose(lanes, one, rtol=1e-14, atol=1e-20)


def test_memory_is_given_out_again_when_nobody_looks_into_it() -> None:
    rooms = Rooms()
    first = rooms.take(3, LANES)
    first[:] = 1.0
    kept, where = first[1:2].T, first.ctypes.data
    del first
    assert rooms.take(3, LANES).ctypes.data != where  # `kept` looks into it
    assert (kept == 1.0).all()
    del kept
    assert rooms.take(2, LANES).ctypes.data == where
