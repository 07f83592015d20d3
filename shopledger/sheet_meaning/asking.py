"""Questions about a sheet: each asked once for all cells of its kind, and answered by whoever knows. Pure."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

SHOWN = 4  # places that a question names
LEFT_OUT = "-"  # the answer: leave these rows out, or: no field
Choices = Iterable[tuple[str, str]] | Callable[[], Iterable[tuple[str, str]]]


class Pending(Exception):
    """What a cell says hangs on a question that is not answered."""


@dataclass
class Question:
    """id: the same for the same question of next month's sheet. choices: (answer, in words); none: anything may be
    written. places: the cells that it comes from. lasting: whether a mapping keeps the answer. suggested: what is
    most likely, blank for nothing. given: the answer, where there is one."""

    id: str
    said: str
    choices: tuple[tuple[str, str], ...] = ()
    places: list[str] = field(default_factory=list)
    lasting: bool = True
    is_day: bool = False
    suggested: str = ""
    given: str | None = None

    @property
    def where(self) -> str:
        more = len(self.places) - SHOWN
        return ", ".join(self.places[:SHOWN]) + (f" and {more} more" if more > 0 else "")

    @property
    def called(self) -> str:
        """The question, with how many cells it is about."""
        count = len(self.places)
        return self.said.replace("{n}", f"{count} row{'' if count == 1 else 's'}")


@dataclass
class Asking:
    """Asks, or answers by what was said before. answers: by a question's id. asked: all of them, in order. faults: of
    answers that are none; by id."""

    answers: Mapping[str, str]
    asked: dict[str, Question] = field(default_factory=dict)
    faults: dict[str, str] = field(default_factory=dict)

    def ask(self, id: str, said: str, choices: Choices = (), place: str = "", **more: object) -> str:
        """The answer. Raises Pending where nobody gave it yet."""
        question = self.asked.get(id)
        if question is None:
            question = self._begun(id, said, choices, more)
        if place and (not question.places or question.places[-1] != place):
            question.places.append(place)
        if question.given is None:
            raise Pending(id)
        return question.given

    def _begun(self, id: str, said: str, choices: Choices, more: dict) -> Question:
        listed = tuple(choices() if callable(choices) else choices)
        question = self.asked[id] = Question(id, said, listed, **more)
        given = self.answers.get(id)
        if given is not None and not isinstance(given, str):
            given = str(given)
        if given is not None and given.strip() and (not listed or given in dict(listed)):
            question.given = given.strip()
        elif given is not None:
            shown = ", ".join(answer for answer, _ in listed[:12]) or "something written"
            self.faults[id] = f"{given[:40]!r} is no answer to {id}; the answers are: {shown}."
        return question

    @property
    def open(self) -> list[Question]:
        return [question for question in self.asked.values() if question.given is None]
