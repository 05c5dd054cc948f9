"""Fixtures shared by all tests: outside programs, a cache of their own, nothing kept for long."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from typing import TYPE_CHECKING

import hypothesis
import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser

# A busy machine must not fail a law that holds; the same cases come in every run.
hypothesis.settings.register_profile("loomwright", deadline=None, derandomize=True)
hypothesis.settings.load_profile("loomwright")

CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
# A quiet browser: no sandbox as root, and nothing sent anywhere by itself.
CHROMIUM_WORDS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def outside_program(names: tuple[str, ...], package: str) -> str:
    """Return the path of a program; without it the test skips, but fails where CI=true."""
    for name in names:
        found = shutil.which(name)
        if found:
            return found
    message = f"{names[0]} is not installed (on Debian: apt install {package})"
    if os.environ.get("CI", "").lower() == "true":
        pytest.fail(message, pytrace=False)
    pytest.skip(message)


@pytest.fixture(scope="session")
def chromium_path() -> str:
    """Return the path of an installed Chromium."""
    return outside_program(CHROMIUM_NAMES, "chromium")


@pytest.fixture(scope="session")
def ngspice_path() -> str:
    """Return the path of an installed ngspice."""
    return outside_program(("ngspice",), "ngspice")


@pytest.fixture(scope="session")
def browser(chromium_path: str) -> Iterator[Browser]:
    """Start the installed Chromium, headless, driven by playwright; nothing is downloaded."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        started = driver.chromium.launch(
            executable_path=chromium_path, headless=True, args=CHROMIUM_WORDS
        )
        yield started
        started.close()


@pytest.fixture
def quick_pins(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hash PINs with little memory: the real hash is slow on purpose."""
    import argon2

    from loomwright.service import pins

    quick = argon2.PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    monkeypatch.setattr(pins, "_hasher", lambda: quick)


@pytest.fixture(scope="session", autouse=True)
def own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Keep predictions in a folder of the tests' own, not in that of whoever runs them."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))
        yield


@pytest.fixture(scope="module", autouse=True)
def nothing_kept(request: pytest.FixtureRequest) -> Iterator[None]:
    """Let go of what a module keeps of its own circuits and tables: hundreds of MB each."""
    yield
    for kept in vars(request.module).values():
        clear = getattr(kept, "cache_clear", None)
        if clear is not None and getattr(kept, "__module__", "") == request.module.__name__:
            clear()
