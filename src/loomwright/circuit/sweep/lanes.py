"""Sixteen numbers side by side for compiled code: one vector, a lane for each variant.

`Lanes` is a number type of numba that LLVM keeps in vector registers (whatever width the
processor has): +, -, * and the functions below work on all lanes at once. A row of a
C-ordered array (rows, lanes) is read by `load` and written by `store`.
"""

from __future__ import annotations

import operator
from collections.abc import Callable
from typing import Any, cast

from llvmlite import ir  # type: ignore[import-untyped]
from numba import types
from numba.core.typing.templates import AbstractTemplate, infer_global, signature
from numba.extending import intrinsic as numba_intrinsic
from numba.extending import lower_builtin, models, register_model

__all__ = ["LANES", "choose", "exponent", "larger", "load", "magnitude", "mantissa", "over",
           "pick", "power_of_two", "put", "smaller", "spread", "store"]

_signature: Any = signature
LANES = 16
_VECTOR = ir.VectorType(ir.DoubleType(), LANES)
_BITS = ir.VectorType(ir.IntType(64), LANES)
_PLACE = ir.IntType(32)
_FRACTION_BITS, _BIAS = 52, 1023  # of a double
_FUSED = ("contract",)  # a product and a sum may become one instruction


def intrinsic(work: Callable[..., Any]) -> Callable[..., Any]:
    """Make a compiled function of its generator (numba's own decorator hides the types)."""
    made: Any = numba_intrinsic(work)
    return cast(Callable[..., Any], made)


class _LanesType(types.Type):
    """Numba's type of so many lanes."""

    def __init__(self) -> None:
        super().__init__(name="Lanes")


_lanes = _LanesType()


@register_model(_LanesType)
class _LanesModel(models.PrimitiveModel):
    """The lanes are one vector to LLVM."""

    def __init__(self, manager: Any, fe_type: Any) -> None:
        super().__init__(manager, fe_type, _VECTOR)  # type: ignore[no-untyped-call]


def _arithmetic(function: Any, build: str) -> None:
    """Teach numba one operator between lanes."""
    announce: Any = infer_global(function)  # type: ignore[no-untyped-call]
    lower: Any = lower_builtin

    @announce
    class _Between(AbstractTemplate):
        def generic(self, args: Any, _kws: Any) -> Any:
            both = len(args) == 2 and all(isinstance(arg, _LanesType) for arg in args)
            return _signature(_lanes, *args) if both else None

    @lower(function, _LanesType, _LanesType)  # type: ignore[untyped-decorator]
    def _lower(_context: Any, builder: Any, _sig: Any, args: Any) -> Any:
        return getattr(builder, build)(args[0], args[1], flags=_FUSED)


for _functions, _build in (((operator.add, operator.iadd), "fadd"),
                           ((operator.sub, operator.isub), "fsub"),
                           ((operator.mul, operator.imul), "fmul"),
                           ((operator.truediv, operator.itruediv), "fdiv")):
    for _function in _functions:
        _arithmetic(_function, _build)


def _row(context: Any, builder: Any, array: tuple[Any, Any], row: Any) -> Any:
    """Return the pointer to a row of an array (rows, lanes)."""
    kind, value = array
    data = context.make_array(kind)(context, builder, value).data
    first = builder.gep(data, [builder.mul(row, ir.Constant(row.type, LANES))])
    return builder.bitcast(first, _VECTOR.as_pointer())


@intrinsic
def load(_typing: Any, array: Any, row: Any) -> Any:
    """Return a row of an array as lanes."""
    def generate(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        return builder.load(_row(context, builder, (sig.args[0], args[0]), args[1]), align=8)

    return _lanes(array, types.int64), generate


@intrinsic
def store(_typing: Any, array: Any, row: Any, value: Any) -> Any:
    """Write lanes to a row of an array."""
    def generate(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        builder.store(args[2], _row(context, builder, (sig.args[0], args[0]), args[1]), align=8)
        return context.get_dummy_value()

    return types.void(array, types.int64, value), generate


@intrinsic
def put(_typing: Any, array: Any, row: Any, column: Any, value: Any) -> Any:
    """Write lanes to a wide row of a C-ordered array, from a column on."""
    def generate(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        made = context.make_array(sig.args[0])(context, builder, args[0])
        width = builder.extract_value(made.shape, 1)
        first = builder.gep(made.data, [builder.add(builder.mul(args[1], width), args[2])])
        builder.store(args[3], builder.bitcast(first, _VECTOR.as_pointer()), align=8)
        return context.get_dummy_value()

    return types.void(array, types.int64, types.int64, value), generate


@intrinsic
def spread(_typing: Any, number: Any) -> Any:
    """Return one number in all lanes."""
    def generate(_context: Any, builder: Any, _sig: Any, args: Any) -> Any:
        nothing = ir.Constant(_VECTOR, ir.Undefined)
        one = builder.insert_element(nothing, args[0], ir.Constant(_PLACE, 0))
        places = ir.Constant(ir.VectorType(_PLACE, LANES), [0] * LANES)
        return builder.shuffle_vector(one, nothing, places)

    return _lanes(types.float64), generate


@intrinsic
def pick(_typing: Any, value: Any, lane: Any) -> Any:
    """Return the number in one lane."""
    def generate(_context: Any, builder: Any, _sig: Any, args: Any) -> Any:
        return builder.extract_element(args[0], builder.trunc(args[1], _PLACE))

    return types.float64(value, types.int64), generate


@intrinsic
def over(_typing: Any, left: Any, right: Any) -> Any:
    """Return a bit for each lane where left is above right, or one of them is no number."""
    def generate(_context: Any, builder: Any, _sig: Any, args: Any) -> Any:
        bits = builder.fcmp_unordered(">", args[0], args[1])
        return builder.zext(builder.bitcast(bits, ir.IntType(LANES)), ir.IntType(64))

    return types.int64(left, right), generate


@intrinsic
def larger(_typing: Any, left: Any, right: Any) -> Any:
    """Return the larger number of each lane."""
    def generate(_context: Any, builder: Any, _sig: Any, args: Any) -> Any:
        return builder.select(builder.fcmp_ordered(">", args[0], args[1]), args[0], args[1])

    return _lanes(left, right), generate


@intrinsic
def smaller(_typing: Any, left: Any, right: Any) -> Any:
    """Return the smaller number of each lane."""
    def generate(_context: Any, builder: Any, _sig: Any, args: Any) -> Any:
        return builder.select(builder.fcmp_ordered("<", args[0], args[1]), args[0], args[1])

    return _lanes(left, right), generate


@intrinsic
def magnitude(_typing: Any, value: Any) -> Any:
    """Return each lane without its sign."""
    def generate(_context: Any, builder: Any, _sig: Any, args: Any) -> Any:
        name = f"llvm.fabs.v{LANES}f64"
        module = builder.module
        found = module.globals.get(name) or ir.Function(
            module, ir.FunctionType(_VECTOR, [_VECTOR]), name)
        return builder.call(found, [args[0]])

    return _lanes(value), generate


@intrinsic
def choose(_typing: Any, bits: Any, left: Any, right: Any) -> Any:
    """Return left in the lanes whose bit is set, right in the others."""
    def generate(_context: Any, builder: Any, _sig: Any, args: Any) -> Any:
        some = builder.bitcast(builder.trunc(args[0], ir.IntType(LANES)),
                               ir.VectorType(ir.IntType(1), LANES))
        return builder.select(some, args[1], args[2])

    return _lanes(types.int64, left, right), generate


def _all(number: int) -> Any:
    """Return a whole number in all lanes."""
    return ir.Constant(_BITS, [number] * LANES)


@intrinsic
def power_of_two(_typing: Any, shifted: Any) -> Any:
    """Return 2**n for each lane of 1.5 * 2**52 + n, where that is a normal number."""
    def generate(_context: Any, builder: Any, _sig: Any, args: Any) -> Any:
        bits = builder.shl(builder.bitcast(args[0], _BITS), _all(_FRACTION_BITS))
        return builder.bitcast(builder.add(bits, _all(_BIAS << _FRACTION_BITS)), _VECTOR)

    return _lanes(shifted), generate


@intrinsic
def exponent(_typing: Any, value: Any) -> Any:
    """Return n for each lane of m * 2**n with m from 1 to 2; the lanes are above zero."""
    def generate(_context: Any, builder: Any, _sig: Any, args: Any) -> Any:
        bits = builder.lshr(builder.bitcast(args[0], _BITS), _all(_FRACTION_BITS))
        return builder.sitofp(builder.sub(bits, _all(_BIAS)), _VECTOR)

    return _lanes(value), generate


@intrinsic
def mantissa(_typing: Any, value: Any) -> Any:
    """Return m for each lane of m * 2**n with m from 1 to 2; the lanes are above zero."""
    def generate(_context: Any, builder: Any, _sig: Any, args: Any) -> Any:
        fraction = builder.and_(builder.bitcast(args[0], _BITS), _all((1 << _FRACTION_BITS) - 1))
        return builder.bitcast(builder.or_(fraction, _all(_BIAS << _FRACTION_BITS)), _VECTOR)

    return _lanes(value), generate
