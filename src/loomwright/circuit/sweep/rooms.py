"""Memory of a sweep: in step with the processor's lines, and used again once nobody reads it."""

from __future__ import annotations

import math
import weakref
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["Rooms", "aligned"]

Array = NDArray[np.float64]
_LINE_BYTES = 128  # a row of lanes; what straddles the processor's lines is read twice
_NUMBER_BYTES = 8
_SPARE = _LINE_BYTES // _NUMBER_BYTES


def aligned(shape: tuple[int, ...]) -> Array:
    """Return zeros that begin where one of the processor's lines does."""
    return _from_line(np.zeros(math.prod(shape) + _SPARE), shape)


def _from_line(room: Array, shape: tuple[int, ...]) -> Array:
    first = (-room.ctypes.data % _LINE_BYTES) // _NUMBER_BYTES
    return room[first:first + math.prod(shape)].reshape(shape)


class Rooms:
    """Rooms for the results of pieces. Fresh memory costs about what solving does.

    The system clears it page by page when it is first written, so a room is given out again when
    no array looks into it any more.
    """

    def __init__(self) -> None:
        self._rooms: list[tuple[Array, weakref.ref[Array]]] = []  # with who looks into it
        self._most = 0

    def take(self, lines: int, columns: int) -> Array:
        """Return an array of any content (lines, columns)."""
        if lines * columns > self._most:
            self._most, self._rooms = lines * columns, []
        free = (number for number, (_, reader) in enumerate(self._rooms) if reader() is None)
        number = next(free, len(self._rooms))
        room: Any = (self._rooms[number][0] if number < len(self._rooms)
                     else np.empty(self._most + _SPARE))
        # whatever is made of this array keeps it alive, the room itself is nobody's
        looks: Array = np.frombuffer(memoryview(room))
        self._rooms[number:number + 1] = [(room, weakref.ref(looks))]
        return _from_line(looks, (lines, columns))
