"""The page on a socket of this machine: where it listens, who may come in, and that it stops at once."""

from __future__ import annotations

import socket
from collections.abc import Callable
from pathlib import Path
from types import FrameType

import uvicorn

from optimiser.errors import CallError
from optimiser.page.application import application
from optimiser.page.gate import Codes, Sessions
from optimiser.page.live import Live, PageClock
from optimiser.page.uploads import Uploads

LOOPBACK = "127.0.0.1"
NOBODY_THERE = ("192.0.2.1", 9)
"""An address kept for documentation (RFC 5737): to ask which of our own would be used; nothing is sent."""


class _AtOnce(uvicorn.Server):
    """Stops without waiting for browsers that keep their connections: what was acknowledged is on the disk."""

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """A signal to stop: the base class would raise it again once all is over."""
        del sig, frame
        self.should_exit = self.force_exit = True


def own_address() -> str:
    """The address of this machine in its own network. Raises ``CallError`` where it has none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect(NOBODY_THERE)
            found = str(asking.getsockname()[0])
        except OSError:
            found = ""
    if not found or found.startswith("127.") or found == "0.0.0.0":  # noqa: S104 - looked for, not bound to
        raise CallError("This machine is in no network.", "Join one first, or leave out --lan.")
    return found


def serve(folder: Path, clock: PageClock, port: int, say: Callable[[str], None], *, lan: bool = False) -> None:
    """Serve a job until Ctrl-C, then raise ``KeyboardInterrupt``.

    Port 0 takes any that is free. Raises ``CallError`` where it cannot listen there,
    and as ``service.moment`` does for the job.
    """
    address = own_address() if lan else LOOPBACK
    listening = _listening(address, port)
    with listening:
        port = listening.getsockname()[1]
        live, dropped = Live(folder, clock), Uploads()
        try:
            live.start()
            say(f"The page is at http://{address}:{port}/ until Ctrl-C.")
            codes = Codes(lambda code: say(f"Code for the next browser: {code}")) if lan else None
            app = application(live, Sessions(codes), dropped, hosts(address, port), f"page-{port}")
            _AtOnce(config(app)).run(sockets=[listening])
            raise KeyboardInterrupt
        finally:
            live.stop()
            dropped.close()


def hosts(address: str, port: int) -> set[str]:
    """The names that it answers to."""
    names = {address, "localhost"} if address == LOOPBACK else {address}
    bare = names if port == 80 else set()
    return {f"{name}:{port}" for name in names} | bare


def config(app: object) -> uvicorn.Config:
    """How it is served: HTTP/1.1 alone, quietly, and with an end to waiting."""
    return uvicorn.Config(
        app,  # type: ignore[arg-type]
        http="h11",
        ws="none",
        lifespan="off",
        log_level="error",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        timeout_keep_alive=20,
        timeout_graceful_shutdown=1,
        limit_concurrency=100,
    )


def _listening(address: str, port: int) -> socket.socket:
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((address, port))
        listening.listen(100)  # whoever comes before the server is ready waits
    except (OSError, OverflowError) as error:
        listening.close()
        told = getattr(error, "strerror", None) or str(error)
        raise CallError(f"{address}, port {port}, cannot be listened at: {told}.", "Name another one with --port, such as 0 for any that is free.") from None  # noqa: E501 # fmt: skip
    return listening
