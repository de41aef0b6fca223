"""Where the choice of a fault would change, marked on scales: of its price, and of its chance."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from optimiser.model.evidence import FailedAttempt
from optimiser.model.plan import Comparison, Forced, SwitchPoints
from optimiser.show import compare_words, wording
from optimiser.show.html.marks import percent

ROOM = 1.25
"""How far a scale of prices goes, by the price at which the choice changes."""


@dataclass(frozen=True)
class SwitchTick:
    """A place on a scale with the words that stand there; ``anchor`` keeps them within the scale."""

    x: str
    said: str
    anchor: str


@dataclass(frozen=True)
class SwitchScale:
    """A scale from ``low`` to ``high``: what is now, where the choice changes (None: nowhere on it), where it stays.

    ``reading`` says the same in words.
    """

    title: str
    reading: str
    low: str
    high: str
    now: SwitchTick
    turn: SwitchTick | None
    stays_from: str
    stays_to: str


@dataclass(frozen=True)
class SwitchScales:
    """The scales of what is tried first; none of what the time did not allow to settle."""

    prices: tuple[SwitchScale, ...] = ()
    chances: tuple[SwitchScale, ...] = ()


def switch_scales(known: Comparison) -> SwitchScales:
    taken = next((row for row in known.rows if known.plan.takes(row.option)), None)
    if taken is None or taken.switch is None:
        return SwitchScales()
    return SwitchScales(tuple(_prices(known, taken, taken.switch)), tuple(_chances(known, taken, taken.switch)))


def _prices(known: Comparison, row: Forced, points: SwitchPoints) -> Iterator[SwitchScale]:
    """The price bought alone, and that of a pack where it can be said."""
    if points.surcharge_minor is None:
        return
    said = compare_words.price_points(known.plan.job, row, points)
    yield _price(known, "Its price, bought alone", said[0], row.alone_minor, row.alone_minor + points.surcharge_minor)
    if points.pack_minor is not None:
        quoted = row.option.lines[0].quote.price_minor
        yield _price(known, "Its quoted price, a pack", said[1], quoted, points.pack_minor)


def _price(known: Comparison, title: str, reading: str, now: int, most: int) -> SwitchScale:
    job, high = known.plan.job, round(ROOM * most) or 1
    text = job.currency.text
    turn = _tick(most, high, f"changes above {text(most)}")
    high_said = wording.amount(job, high)
    return SwitchScale(title, reading, text(0), high_said, _tick(now, high, f"now {text(now)}"), turn, "0%", turn.x)


def _chances(known: Comparison, row: Forced, points: SwitchPoints) -> Iterator[SwitchScale]:
    if points.chance is None and not points.any_fall_loses:
        return
    chance = row.option.chance
    least = chance if points.chance is None or points.any_fall_loses else points.chance
    turn = None if least <= 0 else _tick(least, 1, f"changes below {wording.chance(least)}")
    now = _tick(chance, 1, f"now {wording.chance(chance)}")
    reading = f"{compare_words.chance_point(row, points)}{_in_the_field(known, row, least)}"
    stays_from = turn.x if turn else "0%"
    yield SwitchScale("Its chance, with the parts it takes", reading, "0%", "100%", now, turn, stays_from, "100%")


def _in_the_field(known: Comparison, row: Forced, least: float) -> str:
    """The chance with sound parts that this comes to, for a repair with one chance that was never tried."""
    repair = next(one for one in known.fault.repairs if one.id == row.option.repair)
    tried = any(isinstance(entry, FailedAttempt) for entry in known.plan.job.seen.get(known.fault.id, ()))
    if repair.chance is None or tried or not row.option.lines or least <= 0:
        return ""
    return f" With sound parts, as it is typed above, that is {repair.chance * least / row.option.chance:.2f}."


def _tick(value: float, whole: float, said: str) -> SwitchTick:
    share = value / whole
    return SwitchTick(percent(value, whole), said, "start" if share < 1 / 3 else "end" if share > 2 / 3 else "middle")
