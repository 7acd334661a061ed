"""What a browser makes of an answer: elements, attributes, words; and whether a text made any."""

from __future__ import annotations

import re
import unicodedata
from html.parser import HTMLParser
from urllib.parse import urlsplit

MARK = "x-planted"
FOREIGN = {MARK, "img", "iframe", "object", "embed", "base", "meta-refresh"}
WORKED_OUT = str(9**9)  # what {{ 9**9 }} would become; too long to stand in an id by chance
ADDRESSES = ("href", "src", "action", "formaction", "data", "poster")
# signs that hide, turn the reading or move a cursor (Unicode general categories Cc and Cf)
MOVED = {n: "\ufffd" for n in range(0x110000) if unicodedata.category(chr(n)) in ("Cc", "Cf")}
# those that turn what stands after them (Unicode Standard Annex 9, table 4), or are none but blanks
TURNING = {"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"}
TURNS = [n for n in MOVED if unicodedata.bidirectional(chr(n)) in TURNING or n < ord(" ")]
TURNED = re.compile("[" + "".join(re.escape(chr(n)) for n in TURNS if chr(n) not in "\t\n\r") + "]")
OWN_SCRIPTS = ("/static/", "/phone/")
RAW = (f"<{MARK}", f'" {MARK}=', f"' {MARK}=")  # as none of them may stand in a source


class Markup(HTMLParser):
    """The elements of a page with their attributes, and its words, charged with nothing else."""

    def __init__(self, source: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self.comments: list[str] = []
        self.feed(source)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.texts.append(data)

    def handle_comment(self, data: str) -> None:
        self.comments.append(data)

    @property
    def words(self) -> str:
        """Text and attributes, as a person reads or hears them, in single spaces."""
        held = [value or "" for _, attributes in self.elements for value in attributes.values()]
        return as_shown(" ".join(self.texts + held))

    def named(self, *names: str) -> list[dict[str, str | None]]:
        return [attributes for tag, attributes in self.elements if tag in names]


def as_shown(text: str) -> str:
    """A text as a page may show it: one for all signs that turn or move, and all blanks."""
    return re.sub(r"[\s\ufffd]+", " ", text.translate(MOVED))


def made(source: str) -> list[str]:
    """What a text made of itself in a page: nothing, where it stayed a text."""
    page = Markup(source)
    faults = [f"in the source: {raw}" for raw in RAW if raw in source.lower()]
    for tag, attributes in page.elements:
        faults += [f"element {tag}"] * (tag in FOREIGN)
        faults += [f"{tag}: {name}" for name in attributes if _runs(name)]
        faults += [f"{tag}: {attributes[a]}" for a in ADDRESSES if _leads_away(attributes.get(a))]
        if tag == "script" and not (attributes.get("src") or "").startswith(OWN_SCRIPTS):
            faults.append("a script that is no file of this server")
    faults += [f"comment {text}" for text in page.comments if MARK in text]
    faults += [f"{len(page.named('title'))} titles"] * (len(page.named("title", "html")) < 2)
    faults += [f"worked out: {WORKED_OUT}"] * (WORKED_OUT in page.words)
    return faults + [f"turns the reading: {t.strip()!r}" for t in page.texts if TURNED.search(t)]


def _runs(name: str) -> bool:
    return (
        name == MARK or name == "style" or re.fullmatch(r"on\w+|(data-)?hx-on.*", name) is not None
    )


def _leads_away(address: str | None) -> bool:
    """An address that is none of this server, whatever a browser makes of blanks before it."""
    given = re.sub(r"[\x00-\x20]", "", address or "")
    return bool(urlsplit(given).scheme or urlsplit(given).netloc)
