"""The server as a grower starts it: a process, which can be killed."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx

STARTS_WITHIN_S = 60.0


class AServer:
    """``benchwalk serve`` on the records of a folder, on one port whenever it is started."""

    def __init__(self, folder: Path, port: int) -> None:
        self.folder, self.port = folder, port
        self.url = f"http://localhost:{port}"
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        command = [sys.executable, "-m", "benchwalk", "serve", "--port", str(self.port)]
        self.process = subprocess.Popen(
            [*command, "--data", str(self.folder)],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        patience = time.monotonic() + STARTS_WITHIN_S
        while not self._answers():
            assert self.process.poll() is None, "the server ended"
            assert time.monotonic() < patience, "the server did not start"
            time.sleep(0.05)

    def _answers(self) -> bool:
        try:
            return httpx.get(f"{self.url}/health/live", trust_env=False).is_success
        except httpx.TransportError:
            return False

    def kill(self) -> None:
        if self.process is not None and self.process.poll() is None:
            self.process.send_signal(signal.SIGKILL)
            self.process.wait(STARTS_WITHIN_S)


@contextmanager
def a_server(folder: Path, port: int) -> Iterator[AServer]:
    server = AServer(folder, port)
    server.start()
    try:
        yield server
    finally:
        server.kill()
