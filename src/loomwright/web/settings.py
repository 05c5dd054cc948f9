"""What the web application is started with."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

__all__ = ["LOOPBACK", "Settings"]

LOOPBACK = frozenset({"localhost", "127.0.0.1", "::1"})


@dataclass(frozen=True, slots=True)
class Settings:
    """Where the jobs are, whether the demonstration depot is opened, and who may ask.

    `hosts` are the names a browser may use for this program; `any_address` also allows every bare
    network address, for a workshop's own network. `shared` asks for a paired device and a signed-in
    person; `address` is where devices of the network find this program.
    """

    data: Path | None = None
    demo: bool = False
    hosts: frozenset[str] = LOOPBACK
    any_address: bool = False
    shared: bool = False
    address: str = ""
    max_body: int = 2_000_000  # bytes
    max_photo_body: int = 21_000_000  # a photo of 20 MB with the form around it
