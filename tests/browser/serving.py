"""A real server on a port of its own, and where Chromium is."""

import shutil
import socket
import threading
from collections.abc import Generator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import uvicorn

from boostwright.web.access import Access
from boostwright.web.app import create_app

ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def chromium() -> str | None:
    """The path of the system's Chromium, if there is one."""
    return next((path for name in ("chromium", "chromium-browser") if (path := shutil.which(name))), None)


@dataclass
class Served:
    """A folder and the address under which it is served."""

    folder: Path
    address: str


@contextmanager
def served(folder: Path) -> Generator[Served]:
    """Serve a folder until the block ends."""
    listening = socket.socket(proto=socket.IPPROTO_TCP)  # said, so that asyncio sends small answers at once
    listening.bind(("127.0.0.1", 0))
    listening.listen()  # at once, so that a page that comes before the server waits instead of being refused
    server = uvicorn.Server(uvicorn.Config(create_app(folder, Access()), log_level="warning"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    try:
        yield Served(folder, f"http://127.0.0.1:{listening.getsockname()[1]}")
    finally:
        server.should_exit = True
        thread.join(10)
        listening.close()
