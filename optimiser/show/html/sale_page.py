"""The paper for the sale: what was found and done, with dates and conditions, and what was left undone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from optimiser.model.job import Job, Severity
from optimiser.model.sale_paper import BACK, LEFT, RIGHT, TESTED, Deed, Ended, FaultStory, PieceFitted, SalePaper
from optimiser.show import cause_words, route_words, wording
from optimiser.show.html import marks, page
from optimiser.show.html.marks import Grave
from optimiser.text import sentence

ENDED = {
    Ended.CURED: "Put right",
    Ended.CURED_AGAIN: "Put right, came back, and put right again",
    Ended.CAME_RIGHT: "Came right by itself",
    Ended.CAME_BACK: "Put right, came back, and not put right since",
    Ended.TRIED: "Tried, and not put right",
    Ended.LOOKED_AT: "Looked at, and not put right",
    Ended.UNTOUCHED: "Not put right; nothing was done",
}


@dataclass(frozen=True)
class Story:
    """A fault from the first look on: each line with its day."""

    title: str
    grave: Grave
    ended: str
    lines: tuple[tuple[str, str], ...]


def sale(paper: SalePaper, *, prices: bool = False) -> str:
    """The whole paper as text of an HTML file; with ``prices`` what parts and work cost."""
    job, day = paper.job, paper.day
    dangerous = [one for one in paper.left if one.fault.severity == Severity.DANGEROUS]
    return page.filled(
        "sale.html",
        title=marks.short(wording.title(job), marks.MOST_OF_A_NAME),
        day="" if day is None else f"{day.day} {day:%B %Y}",
        dangers=tuple(_dangers(paper, dangerous)),
        mended=tuple(_story(job, one, prices=prices) for one in paper.mended),
        left=tuple(_story(job, one, prices=prices) for one in paper.left),
        spare=tuple(_piece(job, piece, prices=prices) for piece in paper.spare),
    )


def _dangers(paper: SalePaper, left: Sequence[FaultStory]) -> Iterator[str]:
    if left:
        yield f"NOT FIT FOR USE: dangerous and not put right: {_titles(left)}."
    found = [wording.plain(finding.title(one.fault)) for one in paper.mended for finding in one.open_findings]
    if found:
        yield f"FOUND AND NOT PUT RIGHT: {'; '.join(found)}."
    for by_itself, said in (
        (False, "work on {} was done by the owner, who is not licensed for it"),
        (True, "came right by itself, and nobody licensed for {} has looked at it"),
    ):
        untested = [one for one in paper.mended if one.untested and (one.ended == Ended.CAME_RIGHT) == by_itself]
        systems = " and ".join(sorted({system for one in untested for system in one.untested}))
        if untested:
            yield f"NOT TESTED: {said.format(systems)}: {_titles(untested)}."


def _titles(found: Sequence[FaultStory]) -> str:
    return "; ".join(marks.titled(one.fault) for one in found)


def _ended(one: FaultStory) -> str:
    """How it stands, what no licensed person has seen of it, and what was found and is open."""
    said = f"Came right once its twin was mended ({wording.plain(one.since)})" if one.since else ENDED[one.ended]
    if one.untested:
        by = "" if one.ended == Ended.CAME_RIGHT else " by the owner"
        said += (
            f"{by}; work on {' and '.join(one.untested)} is for those licensed for it, and no test by one of them is"
            " told here"
        )
    elif one.unproven:
        said += "; no test of it by somebody licensed is told here"
    for finding in one.open_findings:
        said += f"; but what points at {wording.plain(finding.said)} was found and is open"
    return said


def _story(job: Job, one: FaultStory, *, prices: bool) -> Story:
    title = wording.named(one.fault)
    noticed = [] if one.noticed is None else [(_day(one.noticed), "Noticed.")]
    deeds = [(_day(deed.at), _deed(job, one, deed, prices=prices)) for deed in one.deeds]
    grave = marks.SIGNS[one.fault.severity]
    return Story(marks.short(title, marks.MOST_OF_A_NAME), grave, _ended(one), (*noticed, *deeds))


def _day(at: datetime) -> str:
    return f"{at.astimezone():%d %B %Y}".removeprefix("0")


def _deed(job: Job, story: FaultStory, deed: Deed, *, prices: bool) -> str:
    said = " ".join(_told(job, story, deed, prices=prices))
    cost = f" {wording.amount(job, deed.price_minor)} paid for it." if prices and deed.price_minor else ""
    return f"{said}{cost}"


def _told(job: Job, story: FaultStory, deed: Deed, *, prices: bool) -> Iterator[str]:
    fault = story.fault
    if deed.check:
        check = next((check for check in fault.checks if check.id == deed.check), None)
        yield sentence(f"Looked: {cause_words.check_title(fault, deed.check)}")
        asked = route_words.complement_of(check, deed.result)
        found = route_words.result_in_words(asked or deed.result)
        yield f"{found}? No." if asked else f"Found: {found.lower()}."
    elif deed.cause:
        cause = route_words.result_in_words(deed.cause).lower()
        yield f"Seen to be the cause: {cause}." if deed.result == "it-is" else f"Seen not to be the cause: {cause}."
    elif deed.repair:
        by = ", by a workshop" if deed.by_workshop else ""
        title = cause_words.repair_title(fault, deed.repair)
        yield f"{'Done' if deed.cured else 'Tried'}{by}: {title}. That {'cured' if deed.cured else 'did not cure'} it."
        for piece in deed.pieces:
            out = "" if piece.stayed else ", taken out again"
            yield f"Part used: {_piece(job, piece, prices=prices)}{out}{_back(job, piece, prices=prices)}."
    elif deed.result == LEFT:
        yield "Decided: left as it is."
    elif deed.result == BACK:
        yield "Came back."
    elif deed.result == RIGHT:
        since = f" since {wording.plain(deed.since)} was mended" if deed.since else ""
        tried = bool(since) or any(other.repair for other in story.deeds)
        yield f"Gone{since}, and {'no repair of its own cured it' if tried else 'nothing was done for it'}."
    elif deed.result == TESTED:
        yield "Tested by somebody licensed for it, and passed."
    else:
        yield "Works since its twin was mended." if deed.result == "works" else "As it was after its twin was mended."


def _piece(job: Job, piece: PieceFitted, *, prices: bool) -> str:
    """A part with its condition and, as far as the record knows, where it came from and its warranty."""
    source = "" if piece.supplier is None else f", from {wording.supplier(job, piece.supplier)}"
    warranty = f", {piece.warranty_months} months of warranty when bought" if piece.warranty_months else ""
    refunded = piece.back_minor is not None and piece.back_minor >= (piece.price_minor or 0)
    told = prices and piece.price_minor is not None and not refunded
    price = f", {wording.amount(job, piece.price_minor or 0)}" if told else ""
    return f"{piece.units} x {wording.part(job, piece.part)}, {piece.condition}{source}{warranty}{price}"


def _back(job: Job, piece: PieceFitted, *, prices: bool) -> str:
    """That pieces went back, and with ``prices`` what came back for them."""
    if piece.back_minor is None:
        return ""
    if not prices or not piece.back_minor:
        return ", sent back"
    some = "" if piece.back_minor >= (piece.price_minor or 0) else f", {wording.amount(job, piece.back_minor)} of it"
    return f", sent back{some or ','} refunded"
