"""The pages of the guide, found as everything else is found."""

from __future__ import annotations

from collections.abc import Mapping

from optimiser.entries import naming
from optimiser.errors import CallError
from optimiser.job_folder import package_data


def guide(topic: str = "", ask: naming.Ask = naming.nobody) -> Mapping[str, str]:
    """The pages of the guide by topic: all, or that of one topic, by its name or title; ``CallError`` if unknown."""
    pages, wrong = package_data.guide(), naming.Wrong()
    if not topic:
        return pages
    titles = {name: text.splitlines()[0].lstrip("# ") for name, text in pages.items()}
    found = naming.pick(topic, titles, "topic of the guide", wrong, ask)
    if found is None:
        raise CallError(*wrong.problems[0])
    return {found: pages[found]}
