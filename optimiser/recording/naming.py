"""What a word means: the id that it names, the nearest ones where it names none, a question where somebody is there."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from optimiser.errors import WordsError
from optimiser.model.job import Fault
from optimiser.model.record import slug

Ask = Callable[[str, Sequence[str]], str | None]
"""A question and the answers that may be given; None where nobody is there to answer, or they leave it."""
MOST_NAMED = 10
MOST_SEARCHED = 2000
NEAR = 0.5
"""How alike a word must be to an id to be offered in its place (``difflib``'s ratio)."""


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

    def check(self) -> None:
        """Raises ``WordsError`` with everything noted so far."""
        if self.problems:
            raise WordsError(self.problems)


def pick(word: str, known: Mapping[str, str], what: str, wrong: Wrong, ask: Ask = nobody) -> str | None:
    """The id that a word names among ``known`` ids with their titles: as it is written, or by its title.

    Where it names none, the nearest ones are asked about or, with nobody there, named in ``wrong``. ``what`` says what
    is looked for, as in "fault" or "check of blower".
    """
    if word in known:
        return word
    same = [name for name, title in known.items() if slug(word) in (slug(name), slug(title)) and slug(word)]
    if len(same) == 1:
        return same[0]
    offered = same or near(word, known)
    answer = ask(f"There is no {what} called {word!r}. Which is it?", offered) if offered else None
    if answer in known:
        return answer
    wrong.add(f"There is no {what} called {word!r}.", named(offered, known))
    return None


def one_named(word: str, faults: Mapping[str, Fault]) -> Fault | None:
    """The fault that a word names for certain, by its id or its title; nothing is asked and nothing noted."""
    same = [fault for name, fault in faults.items() if slug(word) in (slug(name), slug(fault.title)) and slug(word)]
    return faults.get(word) or (same[0] if len(same) == 1 else None)


def near(word: str, known: Mapping[str, str], cutoff: float = NEAR) -> list[str]:
    """The ids that a word may have meant, the nearest first: those that it begins, then those spelt alike."""
    looked, wanted = list(known)[:MOST_SEARCHED], word.casefold()
    begun = [name for name in looked if wanted and name.casefold().startswith(wanted)]
    folded = {name.casefold(): name for name in looked}
    alike = [folded[name] for name in difflib.get_close_matches(wanted, list(folded), n=3, cutoff=cutoff)]
    titles = {title.casefold(): name for name, title in known.items() if title}
    by_title = [titles[t] for t in difflib.get_close_matches(wanted, list(titles)[:MOST_SEARCHED], n=2, cutoff=cutoff)]
    return list(dict.fromkeys((*begun, *alike, *by_title)))[:MOST_NAMED]


def named(offered: Sequence[str], known: Mapping[str, str]) -> str:
    """The mend for a word that names nothing: the nearest ids, else those there are."""
    if offered:
        return f"Did you mean: {', '.join(offered)}?"
    if not known:
        return "There are none."
    more = f", and {len(known) - MOST_NAMED} more" if len(known) > MOST_NAMED else ""
    return f"There are: {', '.join(list(known)[:MOST_NAMED])}{more}."
