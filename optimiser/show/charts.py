"""The report's pictures as matplotlib figures, for notebooks; needs the extra ``charts``.

Every function makes a figure of its own, leaves pyplot alone, and raises ``CallError`` where matplotlib is not there.
Whatever a colour says, a word or a shape says too; most eyes tell the colours apart (Okabe and Ito 2008, Color
Universal Design).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from optimiser.errors import CallError
from optimiser.model.plan import Choice, Plan
from optimiser.model.report import OptionsBeside, Turns
from optimiser.model.stretch import Stretch
from optimiser.show import money_bar, wording
from optimiser.show.html.pictures import shape

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

BLUE, ORANGE, GREY = "#0072B2", "#E69F00", "#777777"
HATCHES = ("", "//", "..", "\\\\", "xx", "--", "oo")
KINDS = {
    "circle": ("o", "new"), "square": ("s", "refurbished"), "diamond": ("D", "salvage"), "triangle": ("^", "workshop"),
    "bar": ("P", "no part"),
}  # fmt: skip
"""The signs of the report: how they are drawn here, and what they say."""
WIDE, A_ROW = 7.0, 0.32
"""Inches: of a figure, and of a row of bars in it."""


def pot(plan: Plan) -> Figure:
    """What remains of the pot as one bar, piece by piece, in the currency's main unit."""
    figure, axes = _blank(2.2)
    left = 0.0
    pieces = [(name, minor) for name, minor in money_bar.segments(plan.purse) if minor > 0]
    for (name, minor), hatch in zip(pieces, HATCHES, strict=False):
        amount = _units(plan, minor)
        axes.barh(0, amount, left=left, color="white", edgecolor=BLUE, hatch=hatch, label=f"{name} {plan.job.currency.text(minor)}")  # noqa: E501 # fmt: skip
        left += amount
    axes.set_yticks([])
    axes.set_xlabel(f"left for parts,{wording.code(plan.job)}")
    if pieces:
        figure.legend(loc="outside lower center", ncols=2, frameon=False)
    return figure


def fixes(plan: Plan) -> Figure:
    """Every fault that is worked on: the fixes expected, weighted by importance, beside the money it takes."""
    taken = [choice for choice in plan.choices if choice.route is not None][::-1]
    figure, axes = _blank(1 + A_ROW * max(2, len(taken)))
    axes.set_axis_off()
    left, right = (figure.add_subplot(1, 2, n) for n in (1, 2))
    names = [_title(choice) for choice in taken]
    left.barh(names, [choice.fault.importance * choice.chance for choice in taken], color=BLUE)
    left.set_xlabel("fixes, by importance")
    right.barh(names, [_units(plan, choice.landed_minor) for choice in taken], color="white", edgecolor=ORANGE, hatch="//")  # noqa: E501 # fmt: skip
    right.set_xlabel(f"cost,{wording.code(plan.job)}")
    right.set_yticks([])
    return figure


def options(plan: Plan, fault: str, known: OptionsBeside) -> Figure:
    """The options of a fault as cost against chance, the efficient ones joined, what the plan tries filled.

    Raises ``KeyError`` for a fault that the plan does not have. ``known`` is ``service.report(...).beside[fault]``.
    """
    choice = plan.choice(fault)
    figure, axes = _blank(3.6)
    chain = [(_units(plan, one.net_minor), one.option.chance) for one in known.options if one.efficient]
    axes.plot([x for x, _ in chain], [y for _, y in chain], color=GREY, linewidth=1, zorder=1)
    told: set[str] = set()
    for one in known.options:
        marker, kind = KINDS[shape(one)]
        tried = one.turn != Turns.NEVER
        axes.scatter(
            _units(plan, one.net_minor), one.option.chance, marker=marker, s=60, zorder=2, edgecolors=BLUE,
            facecolors=BLUE if tried else "white", label=None if kind in told else kind,
        )  # fmt: skip
        told.add(kind)
    axes.set_title(_title(choice))
    axes.set_xlabel(f"cost bought alone, deposits back,{wording.code(plan.job)}")
    axes.set_ylabel("chance of a cure")
    if told:
        axes.legend(frameon=False)
    return figure


def stretch(known: Stretch) -> Figure:
    """Fixes against the money for parts as steps, dashed where nobody looked, with the place of what is there now."""
    figure, axes = _blank(3.6)
    unit = 10**known.job.currency.places
    for piece in known.line:
        ends = [rung.plan.expected_fixes for rung in (piece.low, piece.high)]
        style = "-" if piece.known else "--"
        axes.plot([piece.from_minor / unit, piece.to_minor / unit], ends, style, color=BLUE)
    axes.plot(known.now_minor / unit, known.at(known.now_minor).plan.expected_fixes, "o", color=ORANGE, label="now")
    axes.set_xlabel(f"money for parts,{wording.code(known.job)}")
    axes.set_ylabel("fixes, by importance")
    axes.legend(frameon=False)
    return figure


def _blank(high: float) -> tuple[Figure, Axes]:
    try:
        from matplotlib.figure import Figure  # noqa: PLC0415 - only where something is drawn
    except ImportError:
        raise CallError("Figures need matplotlib.", "Install it: pip install 'optimiser[charts]'") from None
    figure = Figure(figsize=(WIDE, high), layout="constrained")
    return figure, figure.add_subplot()


def _units(plan: Plan, minor: int) -> float:
    """For a place on an axis alone: amounts stay whole minor units everywhere else."""
    return float(plan.job.currency.decimal(minor))


def _title(choice: Choice) -> str:
    """No dollar sign of somebody's title begins mathematics."""
    return wording.named(choice.fault).replace("$", r"\$")
