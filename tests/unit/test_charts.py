"""The report's pictures as figures: what is drawn is what the plan says, whatever its words are."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import pytest

from optimiser import service
from optimiser.model.plan import Plan
from optimiser.model.stretch import FEW
from optimiser.planning.beside import beside
from optimiser.show import charts
from tests.planned import job_of, plan_of
from tests.tiny_job import LAMP, VARIANTS, but, planned

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def drawn(figure: Figure) -> str:
    """As SVG, its text kept as text."""
    from matplotlib import rc_context  # noqa: PLC0415

    out = io.StringIO()
    with rc_context({"svg.fonttype": "none"}):
        figure.savefig(out, format="svg")
    return out.getvalue()


def test_the_pieces_of_the_pot_add_up_to_it() -> None:
    plan = plan_of("shortest")
    bars = charts.pot(plan).axes[0].patches
    assert sum(bar.get_width() for bar in bars) == pytest.approx(plan.purse.remaining_minor / 100)
    assert "direct prices and hire 100.00" in drawn(charts.pot(plan))


def test_fixes_and_money_fault_by_fault() -> None:
    plan = plan_of("look-first")
    _, fixes, money = charts.fixes(plan).axes
    assert sum(bar.get_width() for bar in fixes.patches) == pytest.approx(plan.expected_fixes)
    assert sum(bar.get_width() for bar in money.patches) == pytest.approx(plan.purse.net_minor / 100)


@pytest.mark.parametrize("variant", ["base", "owned", "workshop"] if "workshop" in VARIANTS else ["base", "owned"])
def test_every_option_has_its_place(variant: str) -> None:
    plan: Plan = planned(variant)
    for choice in plan.choices:
        known = beside(plan)[choice.fault.id]
        axes = charts.options(plan, choice.fault.id, known).axes[0]
        places = [tuple(spot.get_offsets()[0]) for spot in axes.collections]
        assert places == [
            (pytest.approx(one.net_minor / 100), pytest.approx(one.option.chance)) for one in known.options
        ]


def test_steps_of_more_money_stand_where_the_points_are() -> None:
    known = service.stretch(job_of("shortest"), looks=FEW)
    *lines, now = charts.stretch(known).axes[0].lines
    level = [[round(100 * x) for x in line.get_xdata()] for line in lines if len({*line.get_ydata()}) == 1]
    assert [money for money, _ in level] == [rung.least_minor for rung in known.rungs]
    assert [until for _, until in level[:-1]] == [rung.until_minor for rung in known.rungs[:-1]]
    assert [line.get_linestyle() for line in lines].count("--") == len(level) - 1
    assert now.get_xydata().tolist() == [[100.0, pytest.approx(known.at(10_000).plan.expected_fixes)]]


def test_words_of_somebody_are_no_mathematics() -> None:
    rude = but(VARIANTS["base"], faults=(but(LAMP, title=r"\frac{$x$ <b> £"),))
    plan = service.plan(rude)
    assert "&lt;b&gt;" in drawn(charts.fixes(plan)) or not plan.selection.routes
    assert drawn(charts.options(plan, "lamp", beside(plan)["lamp"]))
