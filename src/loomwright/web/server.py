"""Start the web application on this machine, for itself or for the workshop's network."""

from __future__ import annotations

import io
import logging
import socket
import sys
import threading
import webbrowser
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from loomwright.errors import UsageError
from loomwright.web.settings import LOOPBACK, Settings

if TYPE_CHECKING:
    import uvicorn
    from fastapi import FastAPI

__all__ = ["Certificate", "Serving", "free_port", "lan_address", "make_server", "serve",
           "shared_sockets", "terminal_picture"]

log = logging.getLogger("loomwright")
KEEP_ALIVE_S = 30  # readings seldom follow within uvicorn's 5 s; a new connection is slower
TRIES = 20  # ports tried after the one wanted
EVERY_ADDRESS = frozenset({"0.0.0.0", "::"})


@dataclass(frozen=True, slots=True)
class Certificate:
    """The files of a certificate and its key, for https."""

    file: Path
    key: Path


@dataclass(frozen=True, slots=True)
class Serving:
    """How the program is started.

    `host` is the address to listen on; anything but loopback opens the workshop network, as
    `share` does with an address that is found. `port` 0 lets the system choose. `data` is the
    folder of the jobs; without it the platform's own place, or for the demonstration a folder
    beside it.
    """

    host: str = "127.0.0.1"
    port: int = 8000
    data: str | Path | None = None
    demo: bool = False
    open_browser: bool = True
    share: bool = False
    certificate: Certificate | None = None

    @property
    def shared(self) -> bool:
        """Return whether others than this machine are let in, through the door."""
        return self.share or self.host not in LOOPBACK

    @property
    def scheme(self) -> str:
        """Return http, or https with a certificate."""
        return "https" if self.certificate else "http"


def serve(wanted: Serving) -> None:
    """Serve until stopped; a busy port gives way to the next free one.

    Raises UsageError where the address cannot be listened on, or the folder cannot be used.
    """
    from loomwright.jobs.folder import data_folder
    from loomwright.web.app import create_app

    logging.basicConfig(format="%(message)s")
    log.setLevel(logging.INFO)
    _check_files(wanted.certificate)
    outside = wanted.host if wanted.host not in LOOPBACK else lan_address() if wanted.share else ""
    taken = shared_sockets(outside, wanted.port) if outside else [
        free_port(wanted.host, wanted.port)]
    number = taken[0].getsockname()[1]
    if wanted.port and number != wanted.port:
        log.info("Port %d is in use; using %d instead.", wanted.port, number)
    folder = Path(wanted.data) if wanted.data else data_folder() / "demo" if wanted.demo else None
    here = f"{wanted.scheme}://localhost:{number}/"
    shown = lan_address() if outside in EVERY_ADDRESS else outside
    name = socket.gethostname().lower()
    app = create_app(Settings(
        data=folder, demo=wanted.demo, hosts=LOOPBACK | {shown, name, f"{name}.local"},
        any_address=outside in EVERY_ADDRESS, shared=wanted.shared,
        address=f"{wanted.scheme}://{_bracketed(shown)}:{number}/" if shown else here))
    log.info("Loomwright is at %s  (stop it with Ctrl-C)", here)
    if wanted.shared:
        _tell_how_to_pair(app, here)
    if wanted.open_browser:
        first = f"{here}pair?code={app.state.pairing.issue()}" if wanted.shared else here
        threading.Timer(0.5, webbrowser.open, [first]).start()
    make_server(app, certificate=wanted.certificate).run(sockets=taken)


def _tell_how_to_pair(app: FastAPI, here: str) -> None:
    """Say how a device is paired, now and whenever a code was used up."""
    from loomwright.service.pairing import CODE_LIFE_S
    from loomwright.web.people_pages import pairing_address

    address = app.state.settings.address

    def tell() -> None:
        code = app.state.pairing.issue()
        log.info("%s", terminal_picture(pairing_address(address, code)))
        log.info("Pair one tablet or telephone: scan this, or open %spair and type %s", address,
                 code)
        log.info("The code is good once, for %d minutes; a foreman gets a fresh one at %sshare",
                 CODE_LIFE_S // 60, here)

    if address.startswith("http:"):
        log.info("The network carries everything unencrypted: use the workshop's own only.")
    if not app.state.access.people():
        log.info("Nobody is set up yet: open %s on this machine for the first foreman.",
                 here)
    tell()
    app.state.paired = tell


def terminal_picture(text: str) -> str:
    """Return a QR code for the terminal, '' where it cannot show one."""
    import segno

    out = io.StringIO()
    segno.make(text, error="l").terminal(out, border=2, compact=True)
    picture = out.getvalue()
    try:
        picture.encode(sys.stderr.encoding or "ascii")
    except UnicodeEncodeError:
        return ""
    return picture


def _check_files(certificate: Certificate | None) -> None:
    for path in (certificate.file, certificate.key) if certificate else ():
        if not path.is_file():
            raise UsageError(f"There is no file '{path}'.",
                             next_step="Name the certificate and its key as PEM files.")


def make_server(app: FastAPI, log_level: str = "warning", certificate: Certificate | None = None
                ) -> uvicorn.Server:
    """Return the server of an application; it ends the live streams before it waits for requests.

    Without that it would wait for open job pages for ever.
    """
    import uvicorn

    from loomwright.web.connections import Connection

    class Server(uvicorn.Server):
        async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
            app.state.feed.close()
            await super().shutdown(sockets)

    # proxy_headers off: whoever asks is who is connected, not who a header says it is
    return Server(uvicorn.Config(
        app, http=Connection, log_level=log_level, access_log=False, server_header=False,
        proxy_headers=False, timeout_keep_alive=KEEP_ALIVE_S,
        ssl_certfile=certificate.file if certificate else None,
        ssl_keyfile=certificate.key if certificate else None))


def lan_address() -> str:
    """Return this machine's address in its network. Raises UsageError where it has none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # RFC 5737; nothing is sent, only the way is chosen
            found = str(probe.getsockname()[0])
        except OSError:
            found = "127.0.0.1"
    if found.startswith("127.") or found == "0.0.0.0":
        raise UsageError("This machine has no address in a network.",
                         next_step="Join the workshop's network, or name its address with --host.")
    return found


def _bracketed(address: str) -> str:
    return f"[{address}]" if ":" in address else address


def shared_sockets(outside: str, port: int) -> list[socket.socket]:
    """Return sockets on loopback and on one outside address, both on the same port.

    Raises UsageError where the address is not this machine's or no port is free.
    """
    if outside in EVERY_ADDRESS:
        return [free_port(outside, port)]
    for number in [port] if port == 0 else range(port, min(port + TRIES, 65536)):
        first = free_port("127.0.0.1", number)
        try:
            return [first, _listening(outside, first.getsockname()[1])]
        except OSError as error:
            first.close()
            last = error
    raise UsageError(f"{outside}:{port} cannot be listened on: {last.strerror}.",
                     next_step="Choose another address with --host, or another port with --port.")


def free_port(host: str, port: int) -> socket.socket:
    """Return a socket bound to the wanted port, or to the next free one.

    Raises UsageError where the address is not this machine's or no port is free.
    """
    last: OSError | None = None
    for number in [port] if port == 0 else range(port, min(port + TRIES, 65536)):
        try:
            return _listening(host, number)
        except OSError as error:
            last = error
    raise UsageError(f"{host}:{port} cannot be listened on: {last.strerror if last else ''}.",
                     next_step="Choose another port with --port, or 0 for any free one.")


def _listening(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    # with its protocol named the event loop sends at once (TCP_NODELAY); without it the second
    # piece of an answer waited 40 ms for the browser's word about the first
    found = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        found.bind((host, port))
        found.listen()
    except OSError:
        found.close()
        raise
    return found
