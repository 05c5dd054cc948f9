"""A client of the web application on a copy of the demonstration depot."""

from __future__ import annotations

import re
import warnings
from pathlib import Path

from loomwright.web.app import create_app
from loomwright.web.settings import Settings
from tests.service.depot_folder import depot_in

with warnings.catch_warnings():  # newer Starlette asks for the successor of httpx
    warnings.simplefilter("ignore")
    from starlette.testclient import TestClient

__all__ = ["HERE", "TestClient", "client_in", "field"]

HERE = "http://127.0.0.1:8000"


def client_in(folder: Path, **settings: object) -> TestClient:
    """Return a client; an error of the program becomes a page, as for a user."""
    app = create_app(Settings(data=depot_in(folder), demo=True, **settings))  # type: ignore[arg-type]
    return TestClient(app, base_url=HERE, raise_server_exceptions=False, follow_redirects=False)


def field(page: str, name: str) -> str:
    """Return the value of the first form field of a name."""
    found = re.search(rf'name="{name}"[^>]* value="([^"]*)"', page)
    assert found is not None, f"no field {name}"
    return found[1]
