"""A part of the service: the job with something in it otherwise, planned on a copy; nothing is written."""

from __future__ import annotations

from datetime import datetime

from optimiser.errors import CallError
from optimiser.model.events import PriceCorrected
from optimiser.state import Moment


def with_chance(now: Moment, fault_id: str, repair_id: str, chance: float) -> Moment:
    """As if a repair cured with this chance, where its parts are sound.

    Raises ``CallError`` where there is no such repair, or its chance is not its own but comes of the causes.
    """
    if not 0 < chance <= 1:
        raise CallError(f"{chance:g} is no chance.", "Say a number above 0 and up to 1, such as 0.8.")
    fault = next((one for one in now.folder.faults if one.id == fault_id), None)
    known = {repair.id: repair for repair in (fault.repairs if fault is not None else ())}
    if fault is None or repair_id not in known or known[repair_id].chance is None:
        raise CallError(f"{fault_id} has no repair {repair_id} with a chance of its own.", "Look at the fault again.")
    repairs = tuple(one.model_copy(update={"chance": chance}) if one.id == repair_id else one for one in fault.repairs)
    faults = (one.model_copy(update={"repairs": repairs}) if one.id == fault_id else one for one in now.folder.faults)
    return now.with_folder(faults=tuple(faults))


def with_price(now: Moment, quote_id: str, price_minor: int, at: datetime) -> Moment:
    """As if it were written down that a pack of a quote really costs this, in minor units.

    Raises ``CallError`` where no such quote stands, or nobody asks that price yet.
    """
    quote = now.job.sheets.by_id.get(quote_id)
    if quote is None or quote.supplier is None:
        raise CallError("That quote is not in the sheets any more.", "Look at the fault again.")
    if quote.price_minor == price_minor:
        return now
    corrected = PriceCorrected(
        at=at, source="suppose", quote=quote.id, part=quote.part, supplier=quote.supplier, condition=quote.condition,
        ref=quote.ref, currency=now.job.settings.currency, was_minor=quote.price_minor, now_minor=price_minor,
    )  # fmt: skip
    return now.after([corrected], supposed=True)
