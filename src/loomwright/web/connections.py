"""Connections to the server: so many from one address, and none that is opened and left waiting.

Without this one machine of the network, paired or not, could open connections, send half a request
on each, and leave no room for anybody else.
"""

from __future__ import annotations

import asyncio
import ipaddress
from collections import Counter

from uvicorn.protocols.http.h11_impl import H11Protocol

__all__ = ["MOST_FROM_ONE", "WAIT_S", "Connection"]

MOST_FROM_ONE = 64  # of one address: a browser has six; several devices may stand behind one
WAIT_S = 20.0  # for a whole head of a request, and between two pieces of its body
_open: Counter[str] = Counter()  # by address; all on the one event loop


class Connection(H11Protocol):
    """A connection that is ended where it waits too long or its address has too many.

    Those of the machine itself are not counted: its user may end the program anyway.
    """

    _address = ""
    _deadline: asyncio.TimerHandle | None = None

    def connection_made(  # type: ignore[override]
        self, transport: asyncio.Transport
    ) -> None:
        """Begin, unless the address has as many as one may have."""
        super().connection_made(transport)
        address = self.client[0] if self.client else ""
        if not _is_own(address):
            self._address = address
            _open[address] += 1
            if _open[address] > MOST_FROM_ONE:
                transport.abort()
                return
        self._wait()

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget the connection."""
        self._stop()
        if self._address:
            _open[self._address] -= 1
            if not _open[self._address]:
                del _open[self._address]
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Take what came; where more is needed, wait for it so long and no longer."""
        lacked = self._lacks_head()
        super().data_received(data)
        if self._lacks_head():
            if not lacked or self._deadline is None:  # a head that comes in drops gains no time
                self._wait()
        elif self.cycle.more_body:
            self._wait()
        else:
            self._stop()

    def _lacks_head(self) -> bool:
        return self.cycle is None or self.cycle.response_complete

    def _wait(self) -> None:
        self._stop()
        self._deadline = self.loop.call_later(WAIT_S, self._too_late)

    def _stop(self) -> None:
        if self._deadline is not None:
            self._deadline.cancel()
            self._deadline = None

    def _too_late(self) -> None:
        self._deadline = None
        if self._lacks_head() or self.cycle.more_body:
            self.transport.abort()


def _is_own(address: str) -> bool:
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return True  # a socket without addresses
