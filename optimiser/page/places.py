"""Where on the page that is done which the command line has a verb for: no sentence here tells anybody to type."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from optimiser.page.taps import UNDERSTOOD

Place = tuple[str, str]
"""An address with what is called there."""

PLACES: Mapping[str, Place] = {
    **{verb: (f"/write#{verb}", f"Write down: {verb}") for verb in UNDERSTOOD},
    **dict.fromkeys(("strike", "undo", "diary"), ("/diary", "The diary")),
    "quotes": ("/sheets", "Suppliers' sheets"),
    "report": ("/papers", "Papers"),
    "add": ("/fault", "A new fault"),
    **dict.fromkeys(("plan", "orders", "moved"), ("/plan", "The plan")),
    **dict.fromkeys(("compare", "stretch"), ("/whatif", "What if")),
}
"""By the verbs of the command line."""
NAMES: Mapping[str, str] = {
    verb: f"strike in “{label}”" if verb == "strike" else f"“{label}”" for verb, (_, label) in PLACES.items()
}
_NAMED = re.compile("“([^”]+)”")


def named_in(said: Iterable[str]) -> tuple[Place, ...]:
    """The places that a text names, in its order."""
    by_label = {label: (address, label) for address, label in PLACES.values()}
    labels = dict.fromkeys(label for text in said for label in _NAMED.findall(text))
    return tuple(by_label[label] for label in labels if label in by_label)
