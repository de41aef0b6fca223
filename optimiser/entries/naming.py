"""What a word means: the id that it names, the nearest ones where it names none, a question where somebody is there."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from optimiser import names
from optimiser.errors import WordsError

Ask = Callable[[str, Sequence[str]], str | None]
"""A question and the answers that may be given; None where nobody is there to answer, or they leave it."""


def nobody(_: str, __: Sequence[str]) -> None:
    """Nobody is there to be asked."""


@dataclass
class Wrong:
    """Everything wrong with the words of a call, gathered so that all of it is said at once."""

    problems: list[tuple[str, str]] = field(default_factory=list)

    def add(self, found: str, mend: str) -> None:
        """Note what is wrong and how to mend it."""
        if (found, mend) not in self.problems:
            self.problems.append((found, mend))

    def words(self, verb: str, given: Sequence[str], mend: str) -> None:
        """Say that a verb takes other words than it was given."""
        self.add(f"{verb} does not take these words." if given else f"{verb} takes words.", mend)

    def check(self) -> None:
        """Raises ``WordsError`` with everything noted so far."""
        if self.problems:
            raise WordsError(self.problems)


YES, NO = ("yes", "y"), ("no", "n", "not", "if-not")
"""What people say for a result and for its complement; the plan itself prints "If not"."""


def plain_answer(word: str, results: Sequence[str]) -> str:
    """The result that yes or no means, where one of two is the other's complement; any other word as it is."""
    said = names.slug(word)
    shown = next((result for result in results if f"not-{result}" in results), None)
    if shown is None or len(results) != 2 or word in results or said not in (*YES, *NO):
        return word
    return f"not-{shown}" if said in NO else shown


def one_word(words: Sequence[str]) -> list[str]:
    """The words with all behind the first as one: what the plan prints in several is typed so."""
    return [words[0], " ".join(words[1:])] if len(words) > 2 else list(words)


def pick(
    word: str, known: Mapping[str, str], what: str, wrong: Wrong, ask: Ask = nobody, *, whole: bool = False
) -> str | None:
    """The id that a word means among ``known`` ids with their titles; ``whole``: no fragment means anything.

    Where it means none, those that it may have meant are asked about or, with nobody there, named in ``wrong``.
    ``what`` says what is looked for, as in "fault" or "check of blower".
    """
    meant = names.meant(word, known, whole=whole)
    if meant.name is not None:
        return meant.name
    answer = ask(f"There is no {what} called {word!r}. Which is it?", meant.offered) if meant.offered else None
    if answer in known:
        return answer
    wrong.add(f"There is no {what} called {word!r}.", names.mend(meant.offered, known))
    return None
