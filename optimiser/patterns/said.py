"""A fault as a person says it: plain words, then after colons where it is and how grave."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from optimiser.errors import CallError
from optimiser.model.job import Severity
from optimiser.names import slug
from optimiser.patterns.catalogue import Pattern
from optimiser.patterns.job_text import Wanted
from optimiser.patterns.search import Found, search

BOTH = ("both", "both-sides", "pair")
"""What says that it is at both of two places; words as ``slug`` writes them."""


@dataclass(frozen=True)
class Said:
    """Words of a person with what they said after colons; ``found`` are the patterns nearest to the words."""

    words: str
    places: tuple[str, ...]
    severity: Severity | None
    found: tuple[Found, ...]

    @property
    def surely(self) -> Pattern | None:
        """The pattern that the words mean, None where that is not sure."""
        return next((found.pattern for found in self.found if found.sure), None)

    def wanted(self, pattern: Pattern) -> Wanted:
        """The fault by this pattern. Raises ``CallError`` for a place that the pattern does not have."""
        return Wanted(pattern, _places(self.places or _named(self.words, pattern), pattern), self.severity)


def said(text: str, patterns: Mapping[str, Pattern], about: str = "") -> Said:
    """What a person says: ``front brakes grind:front``, ``blower dead::minor`` or the words alone.

    ``about`` is what else is known of the job, as ``search`` takes it.
    """
    words, *rest = (part.strip() for part in text.split(":"))
    severities = {severity.value: severity for severity in Severity}
    grave = [severities[word.lower()] for word in rest if word.lower() in severities]
    places = tuple(word for word in rest if word and word.lower() not in severities)
    return Said(words, places, grave[-1] if grave else None, tuple(search(words, patterns, about)))


def _named(words: str, pattern: Pattern) -> tuple[str, ...]:
    """The places of the pattern that the words themselves name."""
    plain = f"-{slug(words)}-"
    if any(f"-{both}-" in plain for both in BOTH) and len(pattern.places) == 2:
        return pattern.places
    return tuple(place for place in pattern.places if f"-{slug(place)}-" in plain)


def _places(words: tuple[str, ...], pattern: Pattern) -> tuple[str, ...]:
    found: list[str] = []
    for word in words:
        same = [place for place in pattern.places if slug(place) == slug(word)]
        if slug(word) in BOTH and len(pattern.places) == 2:
            found += pattern.places
        elif same:
            found += same
        else:
            there = f"It may be said of: {', '.join(pattern.places)}." if pattern.places else "It is said of no place."
            raise CallError(f"{pattern.title} has no place {word!r}.", there)
    return tuple(dict.fromkeys(found))
