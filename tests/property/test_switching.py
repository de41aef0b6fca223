"""Switch points with fallbacks against every tree of the altered job: one step to either side of a point."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import assume, given, reject
from hypothesis import strategies as st

from optimiser.model.job import Fault, Job
from optimiser.model.option import Option
from optimiser.model.plan import SwitchPoints
from optimiser.planning import choose, switch_points
from optimiser.planning.choose import Chosen
from optimiser.solver import narrowing
from tests.brute_force_routes import (
    FaultTrees,
    Mix,
    Proposal,
    Scene,
    Search,
    TooManyTreesError,
    Units,
    lines_of,
    sets_ahead,
)
from tests.effort import MOST_TREES, examples
from tests.small_route_jobs import job_of, jobs
from tests.tiny_job import but

some = examples(25, usual=3)
many = examples(500)
BEFORE_ALL = 10**9
PLAIN = {"chance_step": 0.0, "safety_step": 0.0, "safety_first": False}


def plain_jobs() -> st.SearchStrategy[Job]:
    """Jobs in which money alone decides among equals, to the minor unit."""
    return jobs(moved=PLAIN, faults=2).map(plain)


def plain(job: Job) -> Job:
    """The job with the owner's time worth nothing."""
    return but(job, pot=but(job.pot, hour_worth_minor=0))


class AlteredTrees(FaultTrees):
    """Every tree of a fault one of whose ways is dearer or less sure, wherever it stands; or those begun with it."""

    def __init__(
        self, scene: Scene, fault: Fault, ahead: Units, option: Option, dearer: int, scale: float, *, first: bool
    ) -> None:
        super().__init__(scene, fault, ahead)
        self.scale, self.first, self.key = scale, first, option.key
        self.ways = [replace(w, direct=w.direct + dearer) if w.key == self.key else w for w in self.ways]

    def _mass(self, seen: tuple[int | None, ...], tried: frozenset[int]) -> tuple[float, ...]:
        """With chance ``scale`` the attempt counts, else it fails whatever else is so."""
        own = {n for n, way in enumerate(self.ways) if way.key == self.key}
        counts = super()._mass(seen, tried)
        if not own & tried:
            return counts
        does_not = super()._mass(seen, tried - own)
        return tuple(self.scale * a + (1 - self.scale) * b for a, b in zip(counts, does_not, strict=True))

    def proposals(self) -> list[Proposal]:
        if not self.first:
            return super().proposals()
        ((n, way),) = ((n, way) for n, way in self.open(frozenset()) if way.key == self.key and not way.free)
        if self.ahead.keys() & lines_of(way).keys():
            return []
        leads = self.leads(way)
        certain = () if leads else tuple(sorted(lines_of(way).items()))
        trees = [t for some in self.relied() for t in self.led_by(n, way, some)] if leads else self.begun_with(n, way)
        kept = self.scene.kept(trees, self.gain)
        return self.proposed({certain: kept})


class TakingIt(Search):
    """A search that takes the fault's routes before all else."""

    fault: str

    def promise(self, p: Proposal) -> tuple[int, ...]:
        first, *rest = super().promise(p)
        return (first + BEFORE_ALL * (p.fault == self.fault), *rest)


def begins_with_it(job: Job, option: Option, dearer: int = 0, scale: float = 1.0) -> bool:
    """Whether a mix as good as the best of all begins with the option."""

    def trees(scene: Scene, fault: Fault, ahead: Units, *, first: bool) -> FaultTrees:
        if fault.id != option.fault:
            return FaultTrees(scene, fault, ahead)
        return AlteredTrees(scene, fault, ahead, option, dearer, scale, first=first)

    def found(kind: type[Search], *, first: bool) -> Mix:
        scene = Scene(job, MOST_TREES)
        faults = sorted(job.faults, key=lambda f: f.id)
        search = kind(
            scene,
            [[p for a in sets_ahead(scene, f) for p in trees(scene, f, a, first=first).proposals()] for f in faults],
        )
        search.fault = option.fault
        return search.best()

    own, best = found(TakingIt, first=True), found(Search, first=False)
    if job.settings.aim == "profit":  # at equal profit it is the choice, net cost aside
        best = best._replace(net=own.net)
    return ((own.values[0] - BEFORE_ALL, *own.values[1:]), own.net) == (best.values, best.net)


def planned(job: Job) -> Chosen:
    """What is chosen for the job, within its hours."""
    pick = choose.chosen(job, None, lambda _: None)
    return choose.within_hours(pick) if pick.hours_free else pick


def holds(job: Job, *checks: Callable[[Chosen], None]) -> None:
    """The checks, of a job drawn at random: something is tried in its plan, and its trees are few enough."""
    pick = planned(job)
    assume(pick.selection.options)
    try:
        for check in checks:
            check(pick)
    except TooManyTreesError:
        reject()


def asked(pick: Chosen) -> tuple[Job, Option, SwitchPoints]:
    """The points of the first fault that begins with an attempt, and the job as it was planned."""
    job, options = pick.job, pick.selection.options
    (fault,) = (f for f in job.faults if f.id == options[0].fault)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(narrowing, "WORTH_SHRINKING", 0)  # routes are left out for a question however few there are
        points = switch_points.points(pick, fault, lambda _: True)
    assert points is not None
    return _with_its_checks(job, pick), options[0], points


def _with_its_checks(job: Job, pick: Chosen) -> Job:
    """The job with the checks that the plan was chosen with: idle ones are left out."""
    assert pick.search is not None
    return but(job, faults=tuple(but(f, checks=tuple(pick.search.faults[f.id].checks)) for f in job.faults))


def check_price(pick: Chosen) -> None:
    job, option, points = asked(pick)
    assert points.surcharge_minor is not None
    assert begins_with_it(job, option, dearer=points.surcharge_minor)
    assert not begins_with_it(job, option, dearer=points.surcharge_minor + 1)


def check_chance(pick: Chosen) -> None:
    job, option, points = asked(pick)
    assert points.chance is not None
    assert points.chance <= option.chance
    if points.chance > 0:
        assert begins_with_it(job, option, scale=points.chance / option.chance)
        assert not begins_with_it(job, option, scale=(points.chance - 1.01e-4) / option.chance)


@some
@given(plain_jobs())
def test_it_is_tried_first_up_to_the_price_and_not_above_it(job: Job) -> None:
    holds(job, check_price)


@some
@given(plain_jobs())
def test_it_is_tried_first_down_to_the_chance_and_not_below_it(job: Job) -> None:
    holds(job, check_chance)


@pytest.mark.long
@pytest.mark.parametrize("seed", [136, 398, 1269])
def test_points_that_were_once_wrong(seed: int) -> None:
    pick = planned(plain(job_of(seed, moved=PLAIN, faults=2)))
    check_price(pick)
    check_chance(pick)


@pytest.mark.slow
@many
@given(plain_jobs())
def test_many_points(job: Job) -> None:
    holds(job, check_price, check_chance)
