"""Every sentence a person reads, in English and Spanish, by key.

`strings.csv` holds one row a string: key, en, es. A key ending in ``.one`` / ``.other`` is a plural
form, chosen by CLDR (Babel) for the number ``n``. Values are put in by name: ``{n}``.
"""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files

LOCALES = ("en", "es")


class NoSuchStringError(KeyError):
    """The catalogue has no such key: a programming error, never the user's."""


class Sentence:
    """A string with its values, to be said in whatever language the reader has."""

    def __init__(self, key: str, **values: object) -> None:
        self.key, self.values = key, values

    def said(self, locale: str) -> str:
        """The sentence in a language."""
        return say(self.key, locale, **self.values)


class Refusal(Exception):  # noqa: N818 - reads as what it says
    """Something the library will not do, in words fit to show: what, and what to do instead.

    Raised with a key of the catalogue and the values to put in; the text of the exception is
    English, :meth:`said` gives any language.
    """

    def __init__(self, key: str, **values: object) -> None:
        super().__init__(say(key, "en", **values))
        self.key, self.values = key, values

    def said(self, locale: str) -> str:
        """The sentence in a language."""
        return say(self.key, locale, **self.values)


@cache
def strings() -> dict[str, dict[str, str]]:
    """Key -> locale -> text, as shipped."""
    text = (files(__package__) / "strings.csv").read_text(encoding="utf-8")
    return {
        row["key"]: {loc: row[loc] for loc in LOCALES} for row in csv.DictReader(text.splitlines())
    }


def say(key: str, locale: str = "en", **values: object) -> str:
    """The string of ``key`` in ``locale`` with its values put in; a :class:`Sentence` is said too.

    Raises
    ------
    NoSuchStringError
        if neither ``key`` nor its plural forms are in the catalogue.
    """
    texts = strings().get(key) or strings().get(f"{key}.{_plural(values.get('n'), locale)}")
    if texts is None:
        raise NoSuchStringError(key)
    said = {k: v.said(locale) if isinstance(v, Sentence) else v for k, v in values.items()}
    return texts[locale].format(**said) if said else texts[locale]


def _plural(n: object, locale: str) -> str:
    # Babel is slow to import and most strings have no plural
    from babel import Locale  # noqa: PLC0415 - keeps `--help` quick

    return "one" if isinstance(n, int) and Locale(locale).plural_form(n) == "one" else "other"
