"""Pictures as plain figures: places in percent of the width, heights in lines of text, so that words keep their size.

Each has a reading, one line of words, and its numbers stand in a table beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from optimiser.model.plan import Choice, Odds, Plan
from optimiser.model.report import OptionBeside, OptionsBeside, Turns
from optimiser.model.stretch import Rung, Stretch
from optimiser.show import route_words, steps, stretch_words, wording
from optimiser.show.html.marks import letters, percent, short

ROOM = 0.08
"""What is left free at both ends of an axis, as a share of it."""
FIGURE_LINES = 12.0
LEAST_APART, LETTER_LINES = 5.0, 0.9
"""Percent of the width, or lines, by which two letters must lie apart to be read."""


@dataclass(frozen=True)
class Segment:
    """A piece of the pot."""

    name: str
    amount: str
    x: str
    width: str
    fill: str


@dataclass(frozen=True)
class PotPicture:
    """The pot from the cap to what is unspent; no segments where it is overdrawn."""

    reading: str
    rows: tuple[Segment, ...]
    cap: str
    title: str = "Where the pot goes"


def pot(plan: Plan) -> PotPicture:
    """The whole pot as one bar: its segments add up to it."""
    purse, job = plan.purse, plan.job
    parts = (
        ("gone already", purse.committed_minor, "gone"),
        ("held back", purse.hold_back_minor, "held"),
        ("orders", purse.orders_minor, "orders"),
        ("direct prices and hire", purse.direct_minor, "direct"),
        ("deposits", purse.deposits_minor, "deposits"),
        ("kept for later steps", purse.fallbacks_minor, "later"),
        ("unspent", purse.unspent_minor, "unspent"),
    )
    text, cap = job.currency.text, wording.amount(job, purse.cap_minor)
    drawn, before = list[Segment](), 0
    whole = purse.cap_minor if purse.remaining_minor >= 0 else 0
    for name, minor, fill in parts:
        if minor:
            drawn.append(Segment(name, text(minor), percent(before, whole), percent(minor, whole), fill))
            before += minor
    return PotPicture(_of_the_pot(plan, cap), tuple(drawn), cap)


def _of_the_pot(plan: Plan, cap: str) -> str:
    purse, job = plan.purse, plan.job
    if purse.remaining_minor < 0:
        return f"The pot of {cap} is overdrawn by {wording.amount(job, -purse.remaining_minor)}."
    gone = job.currency.text(purse.committed_minor)
    most, left = wording.amount(job, purse.cash_minor), wording.amount(job, purse.unspent_minor)
    return f"Of {cap} {gone} is gone already; however the results turn out, the plan takes {most} at most and leaves {left}."  # noqa: E501 # fmt: skip


@dataclass(frozen=True)
class FixBar:
    """A fault with what is expected of it: fixes and money as bars of one scale each."""

    number: str
    title: str
    anchor: str
    fixes: str
    money: str
    fix_width: str
    money_width: str


@dataclass(frozen=True)
class FixesPicture:
    """Faults by the fixes that are expected and the money that they take."""

    reading: str
    rows: tuple[FixBar, ...]


def fixes(plan: Plan, anchors: dict[str, str]) -> FixesPicture | None:
    """Every fault that is worked on; None where none is."""
    taken = [choice for choice in plan.choices if choice.route is not None]
    if not taken:
        return None
    numbered, job, text = steps.numbers(plan), plan.job, plan.job.currency.text
    dearest = max(taken, key=lambda choice: choice.landed_minor)
    best = max(choice.fault.importance * choice.chance for choice in taken)
    rows = tuple(
        FixBar(
            number=str(numbered.faults[choice.fault.id]),
            title=short(wording.fault(choice)),
            anchor=anchors[choice.fault.id],
            fixes=f"{choice.fault.importance * choice.chance:.2f}",
            money=text(choice.landed_minor),
            fix_width=percent(choice.fault.importance * choice.chance, best),
            money_width=percent(choice.landed_minor, dearest.landed_minor),
        )
        for choice in taken
    )
    net = wording.amount(job, plan.purse.net_minor)
    most = f"; the most goes to {short(wording.fault(dearest))} ({text(dearest.landed_minor)})"
    fixed = f"{plan.expected_fixes:.2f} fixes, counted by importance, for {net} on the average"
    return FixesPicture(f"{fixed}{most if dearest.landed_minor else ''}.", rows)


@dataclass(frozen=True)
class Mark:
    """An option in the picture: its place, the sign of its condition, its letter where it finds room."""

    letter: str
    x: str
    y: str
    shape: str
    taken: bool
    letter_y: str


@dataclass(frozen=True)
class Stroke:
    """A line from one point to another; dashed where nothing is known between them."""

    x1: str
    y1: str
    x2: str
    y2: str
    dashed: bool = False


@dataclass(frozen=True)
class OptionsPicture:
    """The options of one fault as cost against chance, the efficient ones joined."""

    title: str
    reading: str
    marks: tuple[Mark, ...]
    strokes: tuple[Stroke, ...]
    low_cost: str
    high_cost: str
    low_chance: str
    high_chance: str
    lines: float = FIGURE_LINES


def options(plan: Plan, choice: Choice, known: OptionsBeside) -> OptionsPicture | None:
    """None where there is nothing to set side by side."""
    rows = known.options
    if len(rows) < 2:
        return None
    costs, chances = [row.net_minor for row in rows], [row.option.chance for row in rows]
    across, up = _Axis(costs), _Axis(chances)
    named = list(zip(letters(), rows, strict=False))
    spots = [(across(row.net_minor), up(row.option.chance)) for row in rows]
    marks = _marked(named, spots)
    chain = [row for row in rows if row.efficient]
    strokes = tuple(
        Stroke(f"{across(a.net_minor):.2f}%", f"{_line(up(a.option.chance)):.2f}em", f"{across(b.net_minor):.2f}%",
               f"{_line(up(b.option.chance)):.2f}em")
        for a, b in pairwise(chain)
    )  # fmt: skip
    job = plan.job
    return OptionsPicture(
        title=f"Cost against chance: {short(wording.fault(choice))}",
        reading=_of_the_options(named),
        marks=marks,
        strokes=strokes,
        low_cost=wording.amount(job, min(costs)),
        high_cost=wording.amount(job, max(costs)),
        low_chance=wording.chance(min(chances)),
        high_chance=wording.chance(max(chances)),
    )


def _marked(named: Sequence[tuple[str, OptionBeside]], spots: Sequence[tuple[float, float]]) -> tuple[Mark, ...]:
    """The marks with their letters, where there is room for them: the plan's own and the efficient ones come first."""
    order = sorted(range(len(named)), key=lambda n: (named[n][1].turn == Turns.NEVER, not named[n][1].efficient, n))
    placed, above = dict[int, str](), list[tuple[float, float]]()
    for n in order:
        x, line = spots[n][0], _line(spots[n][1])
        for letter_line in (line - 0.65, line + 1.45):
            free = all(abs(x - a) >= LEAST_APART or abs(letter_line - b) >= LETTER_LINES for a, b in above)
            if free and 0.5 < letter_line < FIGURE_LINES:
                placed[n] = f"{letter_line:.2f}em"
                above.append((x, letter_line))
                break
    return tuple(
        Mark(
            letter=letter if n in placed else "",
            x=f"{spots[n][0]:.2f}%",
            y=f"{_line(spots[n][1]):.2f}em",
            shape=shape(row),
            taken=row.turn != Turns.NEVER,
            letter_y=placed.get(n, "0"),
        )
        for n, (letter, row) in enumerate(named)
    )


class _Axis:
    """Places on an axis in percent, with room at both ends; one value stands in the middle."""

    def __init__(self, values: Sequence[float]) -> None:
        self.low, self.high = min(values), max(values)

    def __call__(self, value: float) -> float:
        if self.high == self.low:
            return 50.0
        return 100 * (ROOM + (1 - 2 * ROOM) * (value - self.low) / (self.high - self.low))


def _line(up: float) -> float:
    """A place from below in percent as lines from the top."""
    return FIGURE_LINES * (1 - up / 100)


def shape(row: OptionBeside) -> str:
    """The sign of an option: by the condition of its least trusted part, a workshop's, or one without a part."""
    if row.option.by_workshop:
        return "triangle"
    kinds = {line.quote.condition for line in row.option.lines}
    known = (("salvage", "diamond"), ("refurbished", "square"), ("new", "circle"))
    return next((sign for condition, sign in known if condition in kinds), "bar")


def _of_the_options(named: Sequence[tuple[str, OptionBeside]]) -> str:
    taken = next((pair for pair in named if pair[1].turn == Turns.FIRST), None)
    chain = [letter for letter, row in named if row.efficient]
    best = f"The best for their money, joined: {', '.join(chain)}." if len(chain) > 1 else f"{chain[0]} is the cheapest and the surest." if chain else ""  # noqa: E501 # fmt: skip
    if taken is None:
        later = [letter for letter, row in named if row.turn == Turns.LATER]
        return f"{best} The plan comes to {', '.join(later)} only after a look." if later else best
    letter, row = taken
    off = "" if row.efficient else " It is off the line when bought alone, and shares orders or packs with the rest of the plan."  # noqa: E501 # fmt: skip
    return f"{best} The plan tries {letter} first.{off}"


@dataclass(frozen=True)
class StretchRow:
    """A point of the line: the money for parts, the pot, the fixes weighted and counted alike, what it does more.

    ``here``: where the job is.
    """

    left: str
    pot: str
    weighted: str
    fixes: str
    does: str
    here: bool


@dataclass(frozen=True)
class StretchPicture:
    """Fixes against money as a line of steps, with the place of what is there now."""

    title: str
    reading: str
    strokes: tuple[Stroke, ...]
    points: tuple[tuple[str, str], ...]
    now: Mark
    most: str
    highest: str
    rows: tuple[StretchRow, ...]
    lines: float = FIGURE_LINES


def stretch(known: Stretch) -> StretchPicture | None:
    """None where no money mends anything."""
    rungs, text = known.rungs, known.job.currency.text
    most, highest = known.most_minor, known.most_fixes
    if not most or highest <= 0:
        return None

    def across(minor: int) -> str:
        return f"{100 * minor / most:.2f}%"

    def up(rung: Rung) -> str:
        return f"{_line(100 * rung.plan.expected_fixes / highest):.2f}em"

    strokes = tuple(
        Stroke(across(piece.from_minor), up(piece.low), across(piece.to_minor), up(piece.high), not piece.known)
        for piece in known.line
    )
    here, all_of_it = known.at(known.now_minor), wording.amount(known.job, rungs[-1].least_minor)
    dashed = any(stroke.dashed for stroke in strokes)
    unknown = " Where the line is dashed, nobody looked at what comes between." if dashed else ""
    rows = tuple(
        StretchRow(
            left=text(rung.least_minor),
            pot=text(known.pot_minor(rung.least_minor)),
            weighted=f"{rung.plan.expected_fixes:.2f}",
            fixes=f"{rung.plan.expected_count:.2f}",
            does=stretch_words.does_more(low, rung),
            here=rung is here,
        )
        for low, rung in known.with_below
    )
    return StretchPicture(
        title="Fixes, weighted by importance, by the money for parts",
        reading=f"The mark is what is there now; all that can be mended takes {all_of_it}.{unknown}",
        strokes=strokes,
        points=tuple((across(rung.least_minor), up(rung)) for rung in rungs),
        now=Mark("", across(known.now_minor), up(here), "circle", taken=True, letter_y="0"),
        most=text(most),
        highest=f"{highest:.1f}",
        rows=rows,
    )


@dataclass(frozen=True)
class OddsRow:
    """A cause with what is believed of it, case by case: the chance, and the width of its bar."""

    cause: str
    cells: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class OddsPicture:
    """Causes by what is believed of them: as written, now, and after each result of the first look."""

    title: str
    reading: str
    cases: tuple[str, ...]
    rows: tuple[OddsRow, ...]


def odds(plan: Plan, choice: Choice) -> OddsPicture | None:
    """None where no odds moved and no look would move them."""
    found = plan.odds.get(choice.fault.id, ())
    moved = any(abs(one.written - one.now) > 5e-4 for one in found)
    results = list(found[0].after) if found else []
    if not (moved or results):
        return None
    looked_at = "" if choice.route is None else choice.route.first_step[-1]
    said = [route_words.result(plan.job, choice.fault.id, looked_at, result) for result in results]
    cases = (*(["As written"] * moved), "Now", *said)
    columns = [[one.written for one in found]] * moved + [[one.now for one in found]]
    columns += [[one.after[result] for one in found] for result in results]
    shares = [route_words.shares(column) for column in columns]
    rows = tuple(
        OddsRow(
            wording.plain(one.cause),
            tuple((shares[n][place], percent(columns[n][place], 1)) for n in range(len(columns))),
        )
        for place, one in enumerate(found)
    )
    title = f"What may be behind it: {short(wording.fault(choice))}"
    return OddsPicture(title, _of_the_odds(found, results, said), cases, rows)


def _of_the_odds(found: Sequence[Odds], results: Sequence[str], said: Sequence[str]) -> str:
    """The likeliest cause now, and after each result."""
    now = max(found, key=lambda one: one.now)
    likeliest = f"Likeliest now: {short(wording.plain(now.cause))} ({wording.chance(now.now)})."
    after = [(name, result, _likeliest(found, result)) for name, result in zip(said, results, strict=True)]
    turns = "; ".join(
        f"{name}: {short(wording.plain(one.cause))} ({wording.chance(one.after[result])})"
        for name, result, one in after
    )
    return f"{likeliest} After the look: {turns}." if turns else likeliest


def _likeliest(found: Sequence[Odds], result: str) -> Odds:
    return max(found, key=lambda one: one.after[result])
