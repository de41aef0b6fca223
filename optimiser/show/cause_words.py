"""The cause of a move, in words: a happening of the record, a quote, the day, an entry written otherwise."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from optimiser.model import events
from optimiser.model.job import Check, Fault, Job, Repair
from optimiser.model.moves import Cause, QuotePair, What
from optimiser.model.quotes import STILL_TO_BE_ASKED
from optimiser.show import wording

KEYS = {"cap": "the cap", "purchase": "the purchase", "spent": "what is spent", "hold_back": "what is held back"}
OWN_FILE = {"supplier": "suppliers.csv"}


def cause(job: Job, one: Cause, within: str = "") -> str:
    """A cause in a few words, beginning small; said of the fault ``within``, whose title need not be said again."""
    if one.happening is not None:
        said = happening(job, one.happening).removeprefix(f"{fault_title(job, within)}: " if within else "")
        return f"{brief(one)} ({said})"
    if one.what == What.LAPSED:
        return _several(job, one, "quotes that ran out", _lapsed)
    if one.what == What.QUOTES:
        return _several(job, one, "quotes that changed", _quote)
    if one.what == What.DAY:
        return f"the day ({one.was or 'unknown'} then, {one.now or 'unknown'} now)"
    return _written(job, one)


def brief(one: Cause) -> str:
    """An entry by its number alone; what is only supposed has none."""
    if one.supposed:
        return "what is supposed"
    return f"entry {one.number}{', struck out' if one.what == What.STRUCK else ''}"


def entries(numbers: Iterable[int]) -> str:
    """Entries by their numbers, runs drawn together: "entries 1, 3 to 5"."""
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    said = [f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs]
    return f"{'entry' if sum(map(len, runs)) == 1 else 'entries'} {', '.join(said)}"


def happening(job: Job, what: events.EventHead) -> str:
    said = HAPPENINGS.get(type(what))
    return said(job, what) if said is not None else wording.plain(getattr(what, "kind", "entry"))


def fault_title(job: Job, fault_id: str) -> str:
    """The fault in words, cured or not."""
    return _title((*job.faults, *job.closed), fault_id)


def check_title(fault: Fault | None, check_id: str) -> str:
    return _title(() if fault is None else fault.checks, check_id)


def repair_title(fault: Fault | None, repair_id: str) -> str:
    return _title(() if fault is None else fault.repairs, repair_id)


def _title(among: Iterable[Fault | Check | Repair], name: str) -> str:
    return next((wording.named(one) for one in among if one.id == name), wording.plain(name))


def _fault(job: Job, fault_id: str) -> Fault | None:
    return next((fault for fault in (*job.faults, *job.closed) if fault.id == fault_id), None)


def _finding(job: Job, what: events.CheckMade) -> str:
    check = check_title(_fault(job, what.fault), what.check)
    return f"{fault_title(job, what.fault)}: {check}: {wording.plain(what.result)}"


def _it_is(job: Job, what: events.SeenToBe) -> str:
    return f"{fault_title(job, what.fault)}: it is {wording.plain(what.cause)}"


def _it_is_not(job: Job, what: events.SeenNotToBe) -> str:
    return f"{fault_title(job, what.fault)}: it is not {wording.plain(what.cause)}"


def _after_cure(job: Job, what: events.AfterCure) -> str:
    return f"{fault_title(job, what.fault)}: {'works too' if what.works else 'still as it was'} after a twin was cured"


def _came_right(job: Job, what: events.CameRight) -> str:
    twin = job.mended_twin(what.fault)
    how = "by itself" if twin is None else f"with no repair of its own, and its twin is mended ({wording.named(twin)})"
    return f"{fault_title(job, what.fault)}: came right {how}"


def _tested(job: Job, what: events.LicensedTest) -> str:
    return f"{fault_title(job, what.fault)}: tested by somebody licensed, and passed"


def _purchase(job: Job, what: events.Purchase) -> str:
    paid = wording.amount(job, what.cash_minor)
    return f"{what.units} x {wording.part(job, what.part)} bought from {wording.supplier(job, what.supplier)}, {paid}"


def _fitting(job: Job, what: events.Fitting) -> str:
    fault = _fault(job, what.fault)
    cured = "cured" if what.cured else "not cured"
    return f"{fault_title(job, what.fault)}: {repair_title(fault, what.repair)}, {cured}"


def _sent_back(job: Job, what: events.SentBack) -> str:
    return f"{what.units} x {wording.part(job, what.part)} sent back"


def _refund(job: Job, what: events.Refund) -> str:
    return f"{wording.amount(job, what.amount_minor)} came back"


def _deposit(job: Job, what: events.DepositReturned) -> str:
    return f"a deposit of {wording.amount(job, what.amount_minor)} came back"


def _spend(job: Job, what: events.Spend) -> str:
    return f"{wording.amount(job, what.amount_minor)} spent: {wording.plain(what.text)}"


def _new_fault(job: Job, what: events.NewFault) -> str:
    return f"{fault_title(job, what.fault)}: came back" if what.back else f"seen: {fault_title(job, what.fault)}"


def _left(job: Job, what: events.LeftAsItIs) -> str:
    return f"{fault_title(job, what.fault)}: left as it is"


def _price(job: Job, what: events.PriceCorrected) -> str:
    now, was = wording.amount(job, what.now_minor), job.currency.text(what.was_minor)
    if what.supplier == STILL_TO_BE_ASKED:
        return f"{wording.part(job, what.part)}: a rough price of {now}, not {was}"
    return f"{wording.supplier(job, what.supplier)} asks {now} for {wording.part(job, what.part)}, not {was}"


def _work_price(job: Job, what: events.WorkPriceCorrected) -> str:
    now, was = wording.amount(job, what.now_minor), job.currency.text(what.was_minor)
    work = repair_title(_fault(job, what.fault), what.repair)
    return f'{fault_title(job, what.fault)}: "{work}" costs {now}, not {was}'


def _odds(job: Job, what: events.OddsCorrected) -> str:
    return f"{fault_title(job, what.fault)}: odds of {wording.plain(what.cause)} {what.was:g} -> {what.now:g}"


def _note(_: Job, what: events.Note) -> str:
    return f"note: {wording.plain(what.text)}"


HAPPENINGS: Mapping[type[events.EventHead], Callable[[Job, Any], str]] = {
    events.CheckMade: _finding,
    events.SeenToBe: _it_is,
    events.SeenNotToBe: _it_is_not,
    events.AfterCure: _after_cure,
    events.CameRight: _came_right,
    events.LicensedTest: _tested,
    events.Purchase: _purchase,
    events.Fitting: _fitting,
    events.SentBack: _sent_back,
    events.Refund: _refund,
    events.DepositReturned: _deposit,
    events.Spend: _spend,
    events.NewFault: _new_fault,
    events.LeftAsItIs: _left,
    events.PriceCorrected: _price,
    events.WorkPriceCorrected: _work_price,
    events.OddsCorrected: _odds,
    events.Note: _note,
}


def _several(job: Job, one: Cause, many: str, said: Callable[[Job, QuotePair], str]) -> str:
    if len(one.quotes) == 1:
        return said(job, one.quotes[0])
    if one.quotes[0].quote.rough:
        how = "gone" if all(pair.now is None for pair in one.quotes) else "others now"
        return f"{len(one.quotes)} rough prices that are {how}"
    return f"{len(one.quotes)} {many} at {wording.supplier(job, one.quotes[0].quote.supplier)}"


def _named(job: Job, pair: QuotePair) -> str:
    quote = pair.quote
    source = "" if quote.rough else f", from {wording.supplier(job, quote.supplier)}"
    return f"{wording.part(job, quote.part)}, {quote.condition}{source}"


def _lapsed(job: Job, pair: QuotePair) -> str:
    return f"the quote that ran out on {pair.quote.valid_until} ({_named(job, pair)})"


def _quote(job: Job, pair: QuotePair) -> str:
    named, price = _named(job, pair), "rough price" if pair.quote.rough else "price"
    quote = price if pair.quote.rough else "quote"
    if pair.was is None:
        return f"a new {quote} ({named})"
    if pair.now is None:
        return f"a {quote} that is gone ({named})"
    if pair.was.price_minor != pair.now.price_minor:
        was, now = job.currency.text(pair.was.price_minor), wording.amount(job, pair.now.price_minor)
        return f"another {price}, {now} instead of {was} ({named})"
    return f"a {quote} that says something else than before ({named})"


def _written(job: Job, one: Cause) -> str:
    """Something in the folder's own files that was written otherwise."""
    table, *rest = one.place
    file = OWN_FILE.get(table, "job.toml")
    if len(rest) == 1 and table in ("fault", "access", "part", "supplier"):
        return f"{table} {wording.plain(rest[0])}, {'gone from' if one.was else 'new in'} {file}"
    keys = ", ".join(wording.plain(key.removesuffix("_minor")) for key in rest[1:] or rest)
    place = f"{table} {wording.plain(rest[0])}, {keys}" if len(rest) > 1 else KEYS.get(keys, f"{table} {keys}".strip())
    if not one.was and not one.now:
        return f"{place}, changed in {file}"
    money = rest[-1].endswith("_minor")
    was, now = (job.currency.text(int(text)) if money and text else text or "none" for text in (one.was, one.now))
    return f"{place}, {wording.plain(now)} instead of {wording.plain(was)} in {file}"
