"""Start the web application on this machine."""

from __future__ import annotations

import logging
import socket
import threading
import webbrowser
from pathlib import Path
from typing import TYPE_CHECKING

from loomwright.errors import UsageError
from loomwright.web.settings import LOOPBACK, Settings

if TYPE_CHECKING:
    import uvicorn
    from fastapi import FastAPI

__all__ = ["free_port", "make_server", "serve"]

log = logging.getLogger("loomwright")
TRIES = 20  # ports tried after the one wanted


def serve(host: str = "127.0.0.1", port: int = 8000, data: str | Path | None = None,
          demo: bool = False, open_browser: bool = True) -> None:
    """Serve until stopped; a busy port gives way to the next free one.

    Parameters
        host: address to listen on; anything but loopback lets others on the network in
        port: 0 to let the system choose
        data: folder of the jobs; without it the platform's own place, or for the demonstration
            a folder beside it
        demo: open the demonstration depot
        open_browser: open the job list in the browser
    Raises
        UsageError: the address cannot be listened on, or the folder cannot be used
    """
    from loomwright.jobs.folder import data_folder
    from loomwright.web.app import create_app

    logging.basicConfig(format="%(message)s")
    log.setLevel(logging.INFO)
    taken = free_port(host, port)
    number = taken.getsockname()[1]
    if port and number != port:
        log.info("Port %d is in use; using %d instead.", port, number)
    folder = Path(data) if data else data_folder() / "demo" if demo else None
    names = LOOPBACK | {host, socket.gethostname().lower()}
    settings = Settings(data=folder, demo=demo, hosts=names, any_address=host not in LOOPBACK)
    app = create_app(settings)
    shown = "localhost" if host in LOOPBACK | {"0.0.0.0", "::"} else host
    address = f"http://{shown}:{number}/"
    log.info("Loomwright is at %s  (stop it with Ctrl-C)", address)
    if settings.any_address:
        log.info("Anybody on this network can open and change these jobs.")
    if open_browser:
        threading.Timer(0.5, webbrowser.open, [address]).start()
    make_server(app).run(sockets=[taken])


def make_server(app: FastAPI, log_level: str = "warning") -> uvicorn.Server:
    """Return the server of an application; it ends the live streams before it waits for requests.

    Without that it would wait for open job pages for ever.
    """
    import uvicorn

    class Server(uvicorn.Server):
        async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
            app.state.feed.close()
            await super().shutdown(sockets)

    return Server(uvicorn.Config(app, log_level=log_level, access_log=False,
                                 server_header=False))


def free_port(host: str, port: int) -> socket.socket:
    """Return a socket bound to the wanted port, or to the next free one.

    Raises UsageError where the address is not this machine's or no port is free.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    last: OSError | None = None
    for number in [port] if port == 0 else range(port, min(port + TRIES, 65536)):
        found = socket.socket(family, socket.SOCK_STREAM)
        found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            found.bind((host, number))
            found.listen()
        except OSError as error:
            found.close()
            last = error
            continue
        return found
    raise UsageError(f"{host}:{port} cannot be listened on: {last.strerror if last else ''}.",
                     next_step="Choose another port with --port, or 0 for any free one.")
