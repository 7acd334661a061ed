"""What a test waits for ends: with an answer, or a sentence that says what did not come."""

from __future__ import annotations

import subprocess
import threading
import time
from collections.abc import Callable, Iterable

PATIENCE_S = 120.0
POLLED_S = 0.02


def line_of(child: subprocess.Popen[str], patience_s: float = PATIENCE_S) -> str:
    """The next line a child says; one that says none in time is killed, and the test fails."""
    assert child.stdout is not None
    too_late = threading.Timer(patience_s, child.kill)
    too_late.start()
    line = child.stdout.readline()
    too_late.cancel()
    assert line, f"{child.args} said nothing within {patience_s:g} s, or ended before it did"
    return line.strip()


def killed(child: subprocess.Popen[str]) -> None:
    """Ended at once, wherever it stands."""
    child.kill()
    child.wait(PATIENCE_S)
    if child.stdout is not None:
        child.stdout.close()


def all_ended(threads: Iterable[threading.Thread], patience_s: float = PATIENCE_S) -> None:
    """Threads that were started have ended; one that has not is named."""
    until = time.monotonic() + patience_s
    for thread in threads:
        thread.join(max(0.0, until - time.monotonic()))
        assert not thread.is_alive(), f"{thread.name} still ran after {patience_s:g} s"


def until(so: Callable[[], object], said: str, patience_s: float = PATIENCE_S) -> None:
    """Ask again and again until it is so; ``said`` says what has not come about."""
    late = time.monotonic() + patience_s
    while not so():
        assert time.monotonic() < late, f"{said} within {patience_s:g} s"
        time.sleep(POLLED_S)
