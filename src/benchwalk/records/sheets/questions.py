"""Questions that a reading asks, each once, and what people answered."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from benchwalk.records.sheets.found import At, Question
from benchwalk.records.sheets.names import REFUSED, Named, taxon_of
from benchwalk.records.sheets.words import fold, tidy

AGREED = "yes"


class Questions:
    """The questions of one reading, in the order in which they came up."""

    def __init__(self, answers: Mapping[str, str], own: Mapping[str, str]) -> None:
        self.answers = {_key(id_): answer for id_, answer in answers.items()}
        self.own = own
        self.asked: dict[str, Question] = {}
        self.named: dict[str, Named] = {}  # what words stand for before any answer

    def answer(self, id_: str) -> str | None:
        """What was answered to a question; none where nothing was."""
        return self.answers.get(_key(id_))

    def ask(self, question: Question) -> None:
        """Ask once; the first place where it came up is the one that is shown."""
        self.asked.setdefault(_key(question.id), question)

    def ids(self) -> frozenset[str]:
        """The ids of all questions."""
        return frozenset(q.id for q in self.asked.values())

    def open(self, text: str) -> str | None:
        """The id of the question about a name; none where nobody is asked about it."""
        id_ = f"name:{tidy(text)}"
        return self.asked[_key(id_)].id if _key(id_) in self.asked else None

    def name(self, text: str, at: At) -> Named:
        """What a name of a pest stands for, after the answers; asks where that is not certain."""
        word = tidy(text)
        if word not in self.named:
            self.named[word] = taxon_of(word, self.own)
        found, id_ = self.named[word], f"name:{word}"
        if found.key is not None and not found.proposed:
            return found
        answer = self.answer(id_)
        if answer is not None and (agreed := _agreed(answer, found)):
            return agreed
        reason = found.reason or "unknown_pest"
        self.ask(
            Question(
                id=id_,
                at=at,
                reason="misspelt_pest" if found.proposed else reason,
                question=_sentence(word, found),
                choices=(*found.candidates, REFUSED),
                proposed=found.key,
            )
        )
        return found

    def day(self, at: At, text: str, proposed: str, other: str | None) -> bool:
        """Whether an inferred day stands; asks while nobody has said so."""
        id_ = f"day:{at.cell or at.row}"
        answer = self.answer(id_)
        if answer is None:
            choices = tuple(c for c in (proposed, other, REFUSED) if c)
            sentence = f"{text!r}: was that on {proposed}?"
            self.ask(
                Question(
                    id=id_,
                    at=at,
                    reason="day_not_written",
                    question=sentence,
                    choices=choices,
                    proposed=proposed,
                )
            )
        return answer is None or answer == proposed


def _key(id_: str) -> str:
    kind, colon, rest = id_.partition(":")
    return f"{kind}{colon}{fold(rest)}"


def _agreed(answer: str, found: Named) -> Named | None:
    """An answer about a name; none where it is no taxon and no refusal: it is asked again."""
    if fold(answer) == REFUSED:
        return Named(None, found.candidates, "unknown_pest")
    meant = found if fold(answer) == AGREED else taxon_of(answer)
    if meant.key is None or (meant.proposed and meant is not found):
        return None
    return replace(found, key=meant.key, reason=None, proposed=False)


def _sentence(word: str, found: Named) -> str:
    if found.proposed:
        return f"{word!r} is no name in the tables; is it {found.key}?"
    if found.candidates:
        return f"{word!r} names several: {', '.join(found.candidates)}; which one is it?"
    return f"{word!r} is no name in the tables; which pest is it?"


def choices_of(names: Iterable[str]) -> tuple[str, ...]:
    """Names to choose from, each once, and the refusal."""
    return (*dict.fromkeys(names), REFUSED)
