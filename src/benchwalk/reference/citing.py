"""How a page names its source, and the bibliography."""

from __future__ import annotations

from benchwalk.catalogue import say
from benchwalk.reference.rows.sources import Source
from benchwalk.reference.shelf import one, rows

READ_IN_FULL = {"yes": "seen", "abstract": "abstract", "no": "not seen"}
NOT_SHOWN = "not shown"


def cite(source_key: str, status: str, locale: str = "en") -> str:
    """Source of a fact in a few words, with "(from memory)" and the like where it is so.

    Raises
    ------
    NoSuchKey
        if the source is not in the tables.
    """
    source = one(Source, source_key)
    named = " ".join(part for part in (_short(source.authors), _year(source)) if part)
    text = f"{named}: {source.title}" if named else source.title
    remark = f"reference.status.{status}"
    return f"{text} {say(remark, locale)}" if status in ("memory", "weak", "computed") else text


def bibliography() -> str:
    """Every source as a page of Markdown, by key."""
    counts = {how: sum(s.seen == how for s in rows(Source)) for how in READ_IN_FULL}
    return "\n".join(
        [
            "# References",
            "",
            "Every fact that benchwalk ships names one of these keys. *Seen* was read, *abstract* "
            "only in its abstract or an excerpt,",
            "*not seen* is known from another source that is named. "
            "Made from `src/benchwalk/reference/tables/sources.csv` by",
            "`python -m benchwalk.reference --bibliography`.",
            "",
            f"{counts['yes']} seen, {counts['abstract']} abstract, {counts['no']} not seen.",
            "",
            *(_entry(source) for source in rows(Source)),
            "",
        ]
    )


def _entry(source: Source) -> str:
    parts = [
        part.rstrip(".")
        for part in (_authors(source), _year(source) or "undated", source.title, source.venue)
        if part
    ]
    doi = f" <https://doi.org/{source.doi}>." if source.doi else ""
    note = f" {source.note[0].upper()}{source.note[1:].rstrip('.')}." if source.note else ""
    seen = READ_IN_FULL[source.seen]
    return f"- **{source.source_key}** ({seen}) {'. '.join(parts)}.{doi}{note}"


def _authors(source: Source) -> str | None:
    return "Authors not shown" if source.authors == NOT_SHOWN else source.authors


def _short(authors: str | None) -> str:
    if authors is None or authors == NOT_SHOWN:
        return ""
    names = [name.strip() for name in authors.split(";")]
    return (
        names[0]
        if len(names) == 1
        else f"{names[0]} & {names[1]}"
        if len(names) == 2
        else f"{names[0]} et al."
    )


def _year(source: Source) -> str:
    return "" if source.year is None else str(source.year)
