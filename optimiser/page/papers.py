"""Papers of the job as files to save, print or send from the phone: those that ``optimiser report`` writes."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from starlette.exceptions import HTTPException

from optimiser import calls, service
from optimiser.errors import CallError
from optimiser.model.report import Report
from optimiser.page.live import Live
from optimiser.show import html, wanted_words


@dataclass(frozen=True)
class Paper:
    """A file with what it is; ``made`` from the plan shown last."""

    file: str
    title: str
    kind: str
    made: Callable[[Report], str]


def _wanted(known: Report) -> str:
    return wanted_words.listed(known.plan, known.wanted)


PLANNED = (
    Paper("report.html", "The report: everything here in one file", "text/html", html.report),
    Paper("card.html", "The card for the garage wall: the next steps on one page", "text/html", html.card),
    Paper("wanted.txt", "The parts to ask shops about", "text/plain", _wanted),
)
SALE: Mapping[str, tuple[str, bool]] = {
    "sale.html": ("The paper for the buyer: what was found, done and left", False),
    "sale-with-prices.html": ("The same with prices", True),
}
"""Papers of the record alone, each with its title and whether it says prices."""


def titles() -> tuple[tuple[str, str], ...]:
    """Every file with what it is."""
    return (*((paper.file, paper.title) for paper in PLANNED), *((file, said) for file, (said, _) in SALE.items()))


def paper(live: Live, file: str) -> tuple[str, str]:
    """What is in a paper, and of which kind it is.

    Raises ``HTTPException`` 404 where there is none of this name, ``CallError`` where there is no plan yet.
    """
    calls.are_made_at({})  # a paper is read elsewhere
    if file in SALE:
        return html.sale(service.sale_paper(live.now()), prices=SALE[file][1]), "text/html"
    wanted = next((one for one in PLANNED if one.file == file), None)
    if wanted is None:
        raise HTTPException(404, "There is no such paper: those that there are stand under Papers.")
    standing = live.standing()
    if standing.shown is None:
        raise CallError("There is no plan yet to print.", "Wait until it is worked out, and look again.")
    return wanted.made(standing.shown.report), wanted.kind
