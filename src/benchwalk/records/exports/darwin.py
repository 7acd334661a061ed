"""The counts in Darwin Core: events where somebody looked, occurrences detected or not detected.

An event is an effort (a part, looked at in one way, in one look or reading) or the visit that holds
it. A place where nobody looked, or of which no word came, is no event, so that nobody can take it
for one at which nothing was found; those places are listed in a file of their own, outside the
archive. What was looked for in an event is its scope (Humboldt Extension); an absence is said for
that scope and no further.

Made for people outside: nothing that somebody typed but the names of places and why a place was
not looked at, and in those no name of a person.

Terms: Darwin Core (dwc.tdwg.org/list) and Humboldt Extension for Ecological Inventories
(eco.tdwg.org/list). The archive: Darwin Core Text Guide (dwc.tdwg.org/text).
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import Any
from xml.sax.saxutils import quoteattr

from sqlalchemy.orm import Session

from benchwalk.records.exports.cells import cell
from benchwalk.records.exports.count import ABSENT, FOUND, Count
from benchwalk.records.exports.counts import counts
from benchwalk.records.exports.names import Mask, masking
from benchwalk.records.exports.scopes import Effort, Vocabulary, effort_of, scope_of, vocabulary

DWC, ECO = "http://rs.tdwg.org/dwc/terms/", "http://rs.tdwg.org/eco/terms/"
NEW_WORDS, OLDER_WORDS = ("detected", "notDetected"), ("present", "absent")
EVENT = (
    "eventID",
    "parentEventID",
    "eventType",
    "eventDate",
    "locationID",
    "locality",
    "habitat",
    "samplingProtocol",
    "sampleSizeValue",
    "sampleSizeUnit",
    "samplingEffort",
)
OCCURRENCE = (
    "eventID",
    "occurrenceID",
    "basisOfRecord",
    "occurrenceStatus",
    "taxonID",
    "scientificName",
    "vernacularName",
    "verbatimIdentification",
    "lifeStage",
    "individualCount",
    "organismQuantity",
    "organismQuantityType",
    "recordedBy",
)
HUMBOLDT = (
    "inventoryTypes",
    "protocolNames",
    "targetTaxonomicScope",
    "isTaxonomicScopeFullyReported",
    "targetLifeStageScope",
    "isLifeStageScopeFullyReported",
    "isAbsenceReported",
    "absentTaxa",
    "isAbundanceReported",
    "isSamplingEffortReported",
    "samplingEffortValue",
    "samplingEffortUnit",
    "samplingPerformedBy",
)
NOT_AN_EVENT = ("day", "place", "word", "reason")
META = "meta.xml"


@dataclass(frozen=True)
class File:
    """One file of the archive: its name, class of rows, terms; the first column is the event."""

    name: str
    row_type: str
    terms: tuple[str, ...]

    @property
    def heading(self) -> list[str]:
        return [term.rsplit("/", 1)[1] for term in self.terms]


FILES = (
    File("event.csv", DWC + "Event", tuple(DWC + term for term in EVENT)),
    File("occurrence.csv", DWC + "Occurrence", tuple(DWC + term for term in OCCURRENCE)),
    File(
        "humboldt.csv",
        ECO + "Event",
        (DWC + "eventID", *(ECO + term for term in HUMBOLDT)),
    ),
)
BESIDE = "not_looked.csv"


def write_darwin(session: Session, folder: Path, *, older_words: bool = False) -> None:
    """Write the archive's files into a folder.

    Parameters
    ----------
    older_words : ``present`` and ``absent`` instead of ``detected`` and ``notDetected``, for
        readers that know the older list only and take every other word for present.
    """
    words, known = OLDER_WORDS if older_words else NEW_WORDS, vocabulary(session)
    mask = masking(session)
    with ExitStack() as stack:
        events, occurrences, scopes = (
            _writer(stack, folder / file.name, file.heading) for file in FILES
        )
        beside = _writer(stack, folder / BESIDE, NOT_AN_EVENT)
        for visit, held in _visits(session, mask):
            efforts = [count for count in held if count.looked not in ABSENT]
            beside.writerows(_beside(c) for c in held if c.looked in ABSENT)
            if efforts:
                events.writerow(_cells(_visit(visit, efforts[0]), EVENT))
            for effort in _efforts(efforts, known):
                events.writerow(_cells(_event(visit, effort), EVENT))
                scopes.writerow(_cells(_scope(effort, known), ("eventID", *HUMBOLDT)))
                occurrences.writerows(
                    _cells(_occurrence(effort, count, known, words), OCCURRENCE)
                    for count in effort.tallies
                )
    (folder / META).write_text(meta(), encoding="utf-8")


def _writer(stack: ExitStack, path: Path, heading: Sequence[str]) -> Any:
    file = stack.enter_context(path.open("w", encoding="utf-8", newline=""))
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(heading)
    return writer


def _cells(said: Mapping[str, Any], terms: Iterable[str]) -> list[str]:
    return [cell(said.get(term)) for term in terms]


def _visits(session: Session, mask: Mask) -> Iterator[tuple[str, list[Count]]]:
    """The rows of one unit on one walk, together; no typed text in them names anybody."""
    for (walk, unit), held in groupby(counts(session), key=lambda c: (c.walk_id, c.unit_id)):
        yield f"{walk}:{unit}", [_unnamed(count, mask) for count in held]


def _unnamed(count: Count, mask: Mask) -> Count:
    typed = (count.house, count.unit, count.reason)
    house, unit, reason = (None if text is None else mask(text) for text in typed)
    return count._replace(house=house, unit=unit, reason=reason)


def _beside(count: Count) -> list[str]:
    said = (count.walk_on, count.place, count.looked, count.reason)
    return [cell(value) for value in said]


def _efforts(held: Sequence[Count], known: Vocabulary) -> Iterator[Effort]:
    scopes = scope_of(held, known)
    for (look, method), found in groupby(held, key=lambda c: (c.observation_id, c.method)):
        assert method is not None  # whatever was examined was examined in some way
        yield effort_of(f"{look}:{method}", list(found), scopes[method], known)


def _visit(visit: str, count: Count) -> dict[str, Any]:
    return {"eventID": visit, "eventType": "visit"} | _where(count)


def _where(count: Count) -> dict[str, Any]:
    return {"eventDate": count.walk_on, "locationID": count.unit_id, "locality": count.place}


def _event(visit: str, effort: Effort) -> dict[str, Any]:
    said = {
        "eventID": effort.id,
        "parentEventID": visit,
        "eventType": effort.first.kind,
        "habitat": effort.habitat,
        "samplingProtocol": effort.protocol,
        "sampleSizeValue": effort.size,
        "sampleSizeUnit": effort.size_unit,
        "samplingEffort": effort.words,
    }
    return said | _where(effort.first)


def _scope(effort: Effort, known: Vocabulary) -> dict[str, Any]:
    """What was looked for, and what of it was not there; nothing is said beyond that."""
    none = effort.none_of
    return {
        "eventID": effort.id,
        "inventoryTypes": "restrictedSearch",
        "protocolNames": effort.protocol,
        "targetTaxonomicScope": _list(known.name(taxon) for taxon, _ in effort.scope_taxa),
        "isTaxonomicScopeFullyReported": True if effort.scope else None,
        "targetLifeStageScope": _list(effort.scope_stages),
        "isLifeStageScopeFullyReported": True if effort.scope else None,
        "isAbsenceReported": bool(none),
        "absentTaxa": _list(known.name(taxon) for taxon in none),
        "isAbundanceReported": any(c.number is not None for c in effort.tallies),
        "isSamplingEffortReported": effort.value is not None,
        "samplingEffortValue": effort.value,
        "samplingEffortUnit": effort.value_unit,
        "samplingPerformedBy": effort.first.scout,
    }


def _list(parts: Iterable[str]) -> str | None:
    """Several values in one cell, as the standard recommends; each once."""
    return " | ".join(dict.fromkeys(parts)) or None


def _occurrence(
    effort: Effort, count: Count, known: Vocabulary, words: tuple[str, str]
) -> dict[str, Any]:
    assert count.taxon is not None  # a row without one is no tally
    quantity, quantity_type = known.quantity(count)
    return {
        "eventID": effort.id,
        "occurrenceID": f"{effort.id}:{count.taxon}:{count.stage}",
        "basisOfRecord": "HumanObservation",
        "occurrenceStatus": words[0 if count.looked == FOUND else 1],
        "taxonID": count.taxon,
        "scientificName": known.scientific.get(count.taxon),
        "vernacularName": known.vernacular.get(count.taxon),
        "verbatimIdentification": count.taxon,
        "lifeStage": known.stages.get(str(count.stage)),
        "individualCount": count.number if count.how == "counted" else None,
        "organismQuantity": quantity,
        "organismQuantityType": quantity_type,
        "recordedBy": count.scout,
    }


def meta() -> str:
    """The archive's own description: which column holds which term."""
    core, *extensions = FILES
    parts = [_part("core", "id", core), *(_part("extension", "coreid", f) for f in extensions)]
    space = quoteattr("http://rs.tdwg.org/dwc/text/")
    body = "".join(parts)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n<archive xmlns={space}>\n{body}</archive>\n'


def _part(tag: str, key: str, file: File) -> str:
    form = (
        'encoding="UTF-8" fieldsTerminatedBy="," fieldsEnclosedBy="&quot;"'
        ' linesTerminatedBy="\\n" ignoreHeaderLines="1"'
    )
    fields = "".join(
        f'    <field index="{n}" term={quoteattr(term)}/>\n' for n, term in enumerate(file.terms)
    )
    return (
        f"  <{tag} {form} rowType={quoteattr(file.row_type)}>\n"
        f"    <files><location>{file.name}</location></files>\n"
        f'    <{key} index="0"/>\n{fields}  </{tag}>\n'
    )
