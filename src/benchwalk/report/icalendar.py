"""Days that something is due, as a calendar that other programs subscribe to (RFC 5545)."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator

OCTETS = 75  # of a line, its end left out (RFC 5545, 3.1)
EVERY = "PT6H"  # how often to ask again (RFC 7986, 5.7); own choice
Event = tuple[str, dt.date, str]  # what tells it from others, its day, its words


def calendar(name: str, events: Iterable[Event], stamp: dt.datetime) -> str:
    """A calendar of whole days.

    Parameters
    ----------
    name : shown over it.
    stamp : when it was made; each event carries it.
    """
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//benchwalk//walks//EN",
        "CALSCALE:GREGORIAN",
        f"NAME:{_text(name)}",
        f"REFRESH-INTERVAL;VALUE=DURATION:{EVERY}",
        *(line for event in events for line in _event(event, stamp)),
        "END:VCALENDAR",
    ]
    return "".join(f"{part}\r\n" for line in lines for part in _folded(line))


def _event(event: Event, stamp: dt.datetime) -> Iterator[str]:
    what, on, words = event
    yield "BEGIN:VEVENT"
    yield f"UID:{what}@benchwalk"
    yield f"DTSTAMP:{stamp.astimezone(dt.UTC):%Y%m%dT%H%M%SZ}"
    yield f"DTSTART;VALUE=DATE:{on:%Y%m%d}"
    yield f"DTEND;VALUE=DATE:{on + dt.timedelta(days=1):%Y%m%d}"
    yield f"SUMMARY:{_text(words)}"
    yield "TRANSP:TRANSPARENT"
    yield "END:VEVENT"


def _text(text: str) -> str:
    """Backslash, comma, semicolon and line ends escaped (RFC 5545, 3.3.11)."""
    for sign in ("\\", ";", ","):
        text = text.replace(sign, f"\\{sign}")
    return " ".join(text.splitlines())


def _folded(line: str) -> Iterator[str]:
    """Parts of at most 75 octets, those after the first begun by a space; no letter is cut."""
    part, room = "", OCTETS
    for letter in line:
        size = len(letter.encode("utf-8"))
        if size > room:
            yield part
            part, room = " ", OCTETS - 1
        part += letter
        room -= size
    yield part
