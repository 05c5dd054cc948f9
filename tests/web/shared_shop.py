"""A workshop shared on its network: its application, its people, and browsers at its door."""

from __future__ import annotations

import functools
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from fastapi import FastAPI
from fastapi.routing import APIRoute

from loomwright.service.access import Access
from loomwright.web.app import create_app
from loomwright.web.gate import DEVICE_COOKIE, SESSION_COOKIE
from loomwright.web.settings import LOOPBACK, Settings
from tests.service.depot_folder import TRUCK_7, depot_in
from tests.web.depot_client import HERE, TestClient

__all__ = ["PIN", "ROLE_OF", "Shop", "filled", "routes_of"]

PIN = "48 wide"
ROLE_OF = {"Morag": "foreman", "Ailsa": "technician", "Rory": "apprentice"}
FILLED = {"job_id": str(TRUCK_7), "exercise": "1", "path": "app.css"}


class Shop:
    """The application in share mode on a copy of the depot; the people have one PIN."""

    def __init__(self, folder: Path, *, people: bool = True, **settings: Any) -> None:
        self.folder = folder
        self.app: FastAPI = create_app(Settings(
            data=depot_in(folder), demo=True, shared=True, hosts=LOOPBACK | {"10.0.0.7"},
            **settings))
        self.access: Access = self.app.state.access
        if people:
            for name, role in ROLE_OF.items():
                self.access.add(name, role, PIN, "")

    def browser(self, base: str = HERE, peer: str = "10.0.0.9") -> TestClient:
        """Return a browser that nobody knows; it says where its forms come from."""
        return TestClient(self.app, base_url=base, raise_server_exceptions=False,
                          follow_redirects=False, client=(peer, 40000), headers={"origin": base})

    def paired(self, **words: str) -> TestClient:
        """Return a browser on a paired device, nobody signed in."""
        found = self.browser(**words)
        found.cookies.set(DEVICE_COOKIE, self.access.add_device("tablet")[1])
        return found

    def signed_in(self, name: str, **words: str) -> TestClient:
        """Return a browser on a paired device with this person signed in."""
        found = self.browser(**words)
        device, secret = self.access.add_device("tablet")
        found.cookies.set(DEVICE_COOKIE, secret)
        session = self.access.sign_in(self.access.named(name).id, PIN, device.id)
        found.cookies.set(SESSION_COOKIE, session)
        return found

    def program(self, scope: str) -> TestClient:
        """Return a program with a token of this scope."""
        found = self.browser()
        del found.headers["origin"]
        found.headers["authorization"] = f"Bearer {self.access.add_token('stock', scope, '')[1]}"
        return found

    def close(self) -> None:
        """Let go of the stores."""
        self.app.state.workshop.close()
        self.access.close()


def routes_of(app: FastAPI) -> Iterator[tuple[str, str]]:
    """Yield the method and path of every route that is ours."""
    for route in _flat(app.routes):
        if isinstance(route, APIRoute):
            for method in sorted(route.methods):
                yield method, route.path


def _flat(routes: Any) -> Iterator[Any]:
    for route in routes:
        inner = getattr(getattr(route, "original_router", None), "routes", None)
        if inner is None:
            yield route
        else:
            yield from _flat(inner)


@functools.cache
def filled(path: str) -> str:
    """Return a path of a route with its places filled in."""
    return re.sub(r"\{(\w+)(:\w+)?\}", lambda one: FILLED.get(one[1], "1"), path)
