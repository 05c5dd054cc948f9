"""Numbers side by side, as compiled code has them."""

from __future__ import annotations

import numpy as np
import pytest

numba = pytest.importorskip("numba")

from loomwright.circuit.sweep.lanes import (  # noqa: E402
    LANES,
    larger,
    load,
    magnitude,
    over,
    pick,
    smaller,
    spread,
    store,
)


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


def test_compiled_code_on_disk_is_dropped_when_a_law_changes() -> None:
    from loomwright.circuit.sweep.kernel import solve_variants

    stamp = solve_variants._cache._cache_file._source_stamp
    names = {name for name, _, _ in stamp[1]}
    assert {"laws.py", "kernel.py", "devices.py", "lanes.py"} <= names
