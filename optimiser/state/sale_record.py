"""The record told fault by fault, for the sale: what was seen and done on each, and what was not put right."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from itertools import dropwhile

from optimiser.model import events, protection
from optimiser.model.job import Fault, Job, Repair
from optimiser.model.sale_paper import BACK, LEFT, RIGHT, TESTED, Deed, Ended, FaultStory, PieceFitted, SalePaper
from optimiser.state.open_findings import open_findings

Seen = (
    events.CheckMade
    | events.SeenToBe
    | events.SeenNotToBe
    | events.AfterCure
    | events.CameRight
    | events.LicensedTest
    | events.Fitting
    | events.LeftAsItIs
    | events.NewFault
)
"""What a person sees or does on one fault."""
RESULTS = {events.LeftAsItIs: LEFT, events.NewFault: BACK, events.LicensedTest: TESTED, events.CameRight: RIGHT}


def paper(job: Job, record: Sequence[events.Entry]) -> SalePaper:
    """The whole of it, from the entries that count."""
    counted = list(events.standing(record))
    bought = {entry.number: entry.happening for entry in counted if isinstance(entry.happening, events.Purchase)}
    deeds, noticed = defaultdict[str, list[Deed]](list), dict[str, datetime]()
    repairs = {(f.id, r.id): (f, r) for f in (*job.faults, *job.closed) for r in f.repairs}
    back = _SentBack(counted)
    for entry in counted:
        what = entry.happening
        if isinstance(what, events.NewFault) and not any(deed.mended for deed in deeds[what.fault]):
            noticed.setdefault(what.fault, what.at)
        elif isinstance(what, Seen):
            deed = _deed(job, entry.number, what, bought, repairs, back)
            since = _mended_twin(job, what.fault, deeds) if deed.result == RIGHT else ""
            deeds[what.fault].append(deed.model_copy(update={"since": since}))
    mended = [
        _story(fault, deeds[fault.id], noticed, cured=True).model_copy(
            update={"open_findings": tuple(open_findings(job, record, fault))}
        )
        for fault in job.closed
    ]
    left = [_story(fault, deeds[fault.id], noticed, cured=False) for fault in job.faults]
    days = [job.settings.today, *(entry.happening.at.astimezone().date() for entry in counted)]
    return SalePaper(
        job=job,
        day=max((day for day in days if day is not None), default=None),
        mended=tuple(sorted(mended, key=lambda one: (one.deeds[-1].at.isoformat() if one.deeds else "", one.fault.id))),
        left=tuple(sorted(left, key=lambda one: (one.fault.severity.rank, -one.fault.importance))),
        spare=tuple(_spare(job, bought)),
    )


def _mended_twin(job: Job, fault_id: str, deeds: Mapping[str, Sequence[Deed]]) -> str:
    """The title of a twin of the fault that a repair has cured, by what was done so far."""
    faults = {fault.id: fault for fault in (*job.faults, *job.closed)}
    twin = None if fault_id not in faults else faults[fault_id].twin
    cured = [name for name, made in deeds.items() if any(deed.cured for deed in made) and name in faults]
    mended = [faults[name] for name in cured if twin is not None and faults[name].twin == twin and name != fault_id]
    return mended[0].title or mended[0].id if mended else ""


class _SentBack:
    """Which pieces that were tried went back, and what came back for them, told in the order of the fittings."""

    def __init__(self, counted: Sequence[events.Entry]) -> None:
        self.whole: set[int] = set()
        """Purchases of which all that was not fitted to stay went back later."""
        self.left: dict[int, int] = defaultdict(int)
        units: dict[int, int] = defaultdict(int)
        for _, what, _ in counted:
            if isinstance(what, events.Refund) and what.bought is not None:
                self.left[what.bought] += what.amount_minor
            elif isinstance(what, events.SentBack):
                units[what.bought] += what.units
        for number, what, _ in counted:
            if isinstance(what, events.Purchase) and units[number] >= what.units:
                self.whole.add(number)

    def of(self, piece: events.FittedPiece, price_minor: int | None) -> int | None:
        """What came back of the price of pieces that went back; None where they did not."""
        if piece.bought is None or not (piece.then == "sent-back" or piece.bought in self.whole):
            return None
        came = min(self.left[piece.bought], price_minor or 0)
        self.left[piece.bought] -= came
        return came


def _story(fault: Fault, deeds: Sequence[Deed], noticed: Mapping[str, datetime], *, cured: bool) -> FaultStory:
    return FaultStory(fault=fault, ended=_ended(deeds, cured), deeds=tuple(deeds), noticed=noticed.get(fault.id))


def _ended(deeds: Sequence[Deed], cured: bool) -> Ended:
    since_first_cure = list(dropwhile(lambda deed: not deed.mended, deeds))
    if cured:
        if next(deed for deed in reversed(deeds) if deed.mended).result == RIGHT:
            return Ended.CAME_RIGHT
        came_back = any(deed.result == BACK or deed.cured is False for deed in since_first_cure)
        return Ended.CURED_AGAIN if came_back else Ended.CURED
    if since_first_cure:
        return Ended.CAME_BACK
    if any(deed.repair for deed in deeds):
        return Ended.TRIED
    return Ended.LOOKED_AT if any(deed.result != LEFT for deed in deeds) else Ended.UNTOUCHED


def _nobody_looked(job: Job, fault_id: str) -> tuple[str, ...]:
    """The systems that nobody licensed for them looked at, of a fault that came right by itself."""
    closed = next((fault for fault in job.closed if fault.id == fault_id), None)
    return () if closed is None else protection.licences_lacking(job, closed)


def _deed(
    job: Job,
    number: int,
    what: Seen,
    bought: Mapping[int, events.Purchase],
    repairs: Mapping[tuple[str, str], tuple[Fault, Repair]],
    back: _SentBack,
) -> Deed:
    if isinstance(what, events.CheckMade):
        return Deed(at=what.at, entry=number, check=what.check, result=what.result, price_minor=what.cost_minor)
    if isinstance(what, events.SeenToBe):
        return Deed(at=what.at, entry=number, cause=what.cause, result="it-is")
    if isinstance(what, events.SeenNotToBe):
        return Deed(at=what.at, entry=number, cause=what.cause, result="it-is-not")
    if isinstance(what, events.AfterCure):
        return Deed(at=what.at, entry=number, result="works" if what.works else "still")
    if isinstance(what, events.LeftAsItIs | events.NewFault | events.LicensedTest | events.CameRight):
        lacking = _nobody_looked(job, what.fault) if isinstance(what, events.CameRight) else ()
        return Deed(at=what.at, entry=number, result=RESULTS[type(what)], unlicensed=lacking)
    made = repairs.get((what.fault, what.repair))
    return Deed(
        at=what.at, entry=number, repair=what.repair, cured=what.cured, price_minor=what.price_minor,
        pieces=tuple(_fitted(piece, bought, back) for piece in what.pieces),
        by_workshop=made is not None and made[1].by == "workshop",
        unlicensed=() if made is None else protection.own_unlicensed(job, *made),
    )  # fmt: skip


def _fitted(piece: events.FittedPiece, bought: Mapping[int, events.Purchase], back: _SentBack) -> PieceFitted:
    """Pieces of a fitting, with what their purchase says of them; deposits and postage are no price of a piece."""
    sold = None if piece.bought is None else bought.get(piece.bought)
    price = None if sold is None else (2 * piece.units * sold.price_minor + sold.pack) // (2 * sold.pack)
    return PieceFitted(
        part=piece.part, units=piece.units, condition=piece.condition, stayed=piece.then == "stays-on",
        supplier=None if sold is None else sold.supplier, price_minor=price,
        warranty_months=None if sold is None else sold.warranty_months, back_minor=back.of(piece, price),
    )  # fmt: skip


def _spare(job: Job, bought: Mapping[int, events.Purchase]) -> Iterator[PieceFitted]:
    for some in job.on_order:
        sold = bought.get(some.bought)
        if sold is not None:
            yield PieceFitted(part=some.part, units=some.units, condition=sold.condition, supplier=some.supplier,
                              stayed=False)  # fmt: skip
