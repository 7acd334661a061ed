"""Days that something is due, as a calendar that other programs subscribe to (RFC 5545)."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

OCTETS = 75  # of a line, its end left out (RFC 5545, 3.1)
EVERY = "PT6H"  # how often to ask again (RFC 7986, 5.7); own choice


@dataclass(frozen=True)
class Event:
    """Something due.

    Attributes
    ----------
    what : tells it from others, the same each time it is asked for.
    on : the day from which it is due.
    until : its last day: the same, or today for what is late, so that today's page shows it.
    words : what is to be done.
    url : where more of it is.
    """

    what: str
    on: dt.date
    until: dt.date
    words: str
    url: str


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
    yield "BEGIN:VEVENT"
    yield f"UID:{event.what}@benchwalk"
    yield f"DTSTAMP:{stamp.astimezone(dt.UTC):%Y%m%dT%H%M%SZ}"
    yield f"DTSTART;VALUE=DATE:{event.on:%Y%m%d}"
    yield f"DTEND;VALUE=DATE:{event.until + dt.timedelta(days=1):%Y%m%d}"  # the day after it ends
    yield f"SUMMARY:{_text(event.words)}"
    yield f"URL:{event.url}"
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
