"""Texts of a page that cannot turn the reading of what stands beside them.

A name that holds U+202E shows the number after it backwards; a name with such a sign is shown with
U+FFFD in its place, as `benchwalk.report.figures.shown` does for files and the terminal. Values of
fields and addresses stay as they are: they come back as they were sent.
"""

from __future__ import annotations

import re

# property Bidi_Control (Unicode Standard Annex 9, 2), and control characters but for blanks
TURNS = (
    "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
    "\x00\x01\x02\x03\x04\x05\x06\x07\x08\x0b\x0e\x0f\x10\x11\x12\x13\x14\x15\x16\x17\x18\x19\x1a"
    "\x1b\x1c\x1d\x1e\x1f\x7f\x80\x81\x82\x83\x84\x85\x86\x87\x88\x89\x8a\x8b\x8c\x8d\x8e\x8f\x90"
    "\x91\x92\x93\x94\x95\x96\x97\x98\x99\x9a\x9b\x9c\x9d\x9e\x9f"
)
_SEEN = str.maketrans(TURNS, "\N{REPLACEMENT CHARACTER}" * len(TURNS))
_BETWEEN_TAGS = re.compile(r">[^<]+")


def straight(source: str) -> str:
    """The source of a page, with U+FFFD for each such sign between its tags.

    What templates print is escaped, so a ``>`` ends a tag and ``<`` begins one.
    """
    if not any(sign in source for sign in TURNS):
        return source
    return _BETWEEN_TAGS.sub(lambda text: text[0].translate(_SEEN), source)
