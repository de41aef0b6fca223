"""What if: another pot, a price, a chance; planned on a copy in its turn, and nothing is written."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from optimiser import money, service, starting, supposing
from optimiser.errors import CallError
from optimiser.model.job import Job, needed_parts
from optimiser.model.quotes import STILL_TO_BE_ASKED
from optimiser.page.forms import Sent
from optimiser.page.live import Live, Supposed
from optimiser.show import wording
from optimiser.show.html import marks
from optimiser.show.html.switch_scales import SwitchScales, switch_scales
from optimiser.state import Moment

MOST_OFFERED = 200


@dataclass(frozen=True)
class PotField:
    """The pot as it is, and the ends of the slider, in whole units of the currency."""

    now: str
    least: int
    most: int
    step: int
    at: int


@dataclass(frozen=True)
class PriceField:
    """A quote whose price may be supposed otherwise."""

    quote: str
    said: str
    price: str


@dataclass(frozen=True)
class ChanceField:
    """A repair whose chance may be supposed otherwise."""

    repair: str
    said: str
    chance: str


@dataclass(frozen=True)
class FaultFields:
    fault: str
    title: str
    prices: tuple[PriceField, ...]
    chances: tuple[ChanceField, ...]


def pot_field(job: Job) -> PotField:
    """The slider from what is gone already to twice the pot."""
    pot, unit = job.pot, 10**job.currency.places
    least, cap = -(-pot.committed_minor // unit), pot.cap_minor // unit
    most = max(2 * cap, least + 10)
    return PotField(job.currency.text(pot.cap_minor), least, most, max(1, (most - least) // 200), cap)


def written(live: Live, sent: Sent) -> str:
    """Write the pot of a form into the job; the one before. Raises ``CallError`` and as ``starting.change_pot``."""
    before = live.now()
    currency = before.job.currency
    minor = money.given(sent.text("pot") or "", currency)
    with live.turn:
        starting.change_pot(live.folder, before, minor, live.clock.today())
    return currency.text(before.folder.pot.cap_minor)


def fault_fields(job: Job, name: str) -> FaultFields | None:
    """What of a fault may be supposed otherwise; None where it is not open."""
    fault = next((one for one in job.faults if one.id == name), None)
    if fault is None:
        return None
    parts = needed_parts([fault])
    prices = [
        PriceField(quote.id, _quote(job, quote.part, quote.supplier, quote.condition, quote.ref), text)
        for quote in job.sheets.of(sorted(parts))
        if (text := job.currency.text(quote.price_minor))
    ]
    chances = [
        ChanceField(repair.id, marks.titled(repair), f"{repair.chance:g}")
        for repair in fault.repairs
        if repair.chance is not None
    ]
    return FaultFields(fault.id, marks.titled(fault), tuple(prices[:MOST_OFFERED]), tuple(chances[:MOST_OFFERED]))


def fault_scales(live: Live, now: Moment, name: str) -> SwitchScales:
    """Where the choice of a fault would change, once that was asked and worked out of what is known now."""
    asked = (one for one in live.supposed() if one.fault == name and one.asked_at.record == now.record)
    found = next((one.comparison for one in asked if one.comparison is not None), None)
    return SwitchScales() if found is None else switch_scales(found)


def fault_choices(job: Job) -> tuple[tuple[str, str], ...]:
    """The open faults by id and title."""
    return tuple((fault.id, marks.titled(fault)) for fault in job.faults)[:MOST_OFFERED]


def _quote(job: Job, part: str, supplier: str | None, condition: str, ref: str) -> str:
    seller = "a rough price" if supplier == STILL_TO_BE_ASKED else wording.supplier(job, supplier)
    said = f"{wording.part(job, part)}, {condition}, {seller}{f', ref {wording.plain(ref)}' if ref else ''}"
    return marks.short(said, 120)


def asked(live: Live, query: Mapping[str, str]) -> Supposed | None:
    """The what-if that an address asks for, thought over in its turn; None where it asks for none.

    Raises ``CallError`` where it cannot be supposed.
    """
    now = live.now()
    wanted = _wanted(now, live, query)
    return None if wanted is None else live.suppose(wanted)


def _wanted(now: Moment, live: Live, query: Mapping[str, str]) -> Supposed | None:
    job, code = now.job, now.job.settings.currency
    said = {name: text.strip() for name, text in query.items() if text.strip()}
    if "pot" in said:
        minor = money.given(said["pot"], job.currency)
        name = f"A pot of {job.currency.text(minor)} {code}"
        return Supposed(name, ("pot", str(minor)), now, now.with_pot(minor))
    if "points" in said and "fault" in said:
        of = service.find_fault(job, said["fault"])
        return Supposed(f"Where the choice would change: {marks.titled(of)}", ("points", of.id), now, now, fault=of.id)
    if "quote" in said and "price" in said:
        minor = money.given(said["price"], job.currency)
        quote = job.sheets.by_id.get(said["quote"])
        told = "" if quote is None else _quote(job, quote.part, quote.supplier, quote.condition, quote.ref)
        then = supposing.with_price(now, said["quote"], minor, now.record[-1].happening.at if now.record else live.clock.now())  # noqa: E501 # fmt: skip
        return Supposed(f"{told} at {job.currency.text(minor)} {code}", ("price", said["quote"], str(minor)), now, then)
    if "repair" in said and "chance" in said:
        try:
            chance = float(said["chance"].replace(",", "."))
        except ValueError:
            raise CallError(f"{said['chance'][:60]!r} is no chance.", "Write a number such as 0.8.") from None
        fault = said.get("fault", "")
        then = supposing.with_chance(now, fault, said["repair"], chance)
        return Supposed(f"{fault}: {said['repair']} with a chance of {wording.chance(chance)}", ("chance", fault, said["repair"], f"{chance:g}"), now, then)  # noqa: E501 # fmt: skip
    return None
