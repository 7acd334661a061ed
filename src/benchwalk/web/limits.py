"""How often somebody may guess. A stranger's guesses slow the stranger, not the person.

Guesses are counted by where they come from, by the name they are for and where they come from, and
by the name alone: a stranger at one address shuts nobody out at another, and only one who guesses
from many addresses at once is met by the last. A browser in which the person of that name has
signed in before has a count of its own, so that no guesses from elsewhere shut it out.
"""

from __future__ import annotations

import ipaddress
import threading
import time
from collections import OrderedDict, deque
from collections.abc import Callable

# own choices: wrong guesses in a window, from one network, at one name from there, at one name
PER_SOURCE, PER_NAME, FROM_EVERYWHERE = 20, 10, 100
WINDOW_S = 600.0
REMEMBERED = 10_000  # own choice: keys held at most, so that guesses cannot fill the memory


class Limits:
    """Wrong guesses of the last ten minutes, in memory: forgotten when the server stops."""

    def __init__(self, now: Callable[[], float] = time.monotonic) -> None:
        self._now = now
        self._wrong: OrderedDict[tuple[str, str], deque[float]] = OrderedDict()
        self._held = threading.Lock()

    def wait_s(self, source: str, name: str, browser: str | None = None) -> int:
        """Seconds until another guess is looked at; 0 where it is now.

        Parameters
        ----------
        source : address of the network the guess comes from.
        name : the name it is for, whether anybody has it or not.
        browser : token of a browser that is known to the person of this name, else None.
        """
        with self._held:
            return max(self._wait(key, most) for key, most in _keys(source, name, browser))

    def wrong(self, source: str, name: str, browser: str | None = None) -> None:
        """Count a wrong guess."""
        with self._held:
            for key, _ in _keys(source, name, browser):
                self._wrong.setdefault(key, deque()).append(self._now())
                self._wrong.move_to_end(key)
            while len(self._wrong) > REMEMBERED:
                self._wrong.popitem(last=False)

    def right(self, source: str, name: str, browser: str | None = None) -> None:
        """Forget the wrong guesses for a name; those of a source stay.

        Else whoever has one account could wipe the count of guesses at all the others.
        """
        with self._held:
            for key, _ in _keys(source, name, browser):
                if key[0] != "source":
                    self._wrong.pop(key, None)

    def _wait(self, key: tuple[str, str], most: int) -> int:
        times, now = self._wrong.get(key, deque()), self._now()
        while times and times[0] <= now - WINDOW_S:
            times.popleft()
        return 0 if len(times) < most else int(times[-most] + WINDOW_S - now) + 1


def _keys(source: str, name: str, browser: str | None) -> list[tuple[tuple[str, str], int]]:
    if browser is not None:
        return [(("browser", browser), PER_NAME)]
    here = network(source)
    return [
        (("source", here), PER_SOURCE),
        (("name_there", f"{here} {name}"), PER_NAME),
        (("name", name), FROM_EVERYWHERE),
    ]


def network(source: str) -> str:
    """The address, or the /64 of an address of version 6: one household or office has all of it."""
    try:
        address = ipaddress.ip_address(source)
    except ValueError:
        return source
    if address.version == 4:
        return source
    return str(ipaddress.ip_network((address, 64), strict=False))
