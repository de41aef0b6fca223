"""Put routes forward, choose the mix, and leave out the checks that are not worth their time, until the plan stands."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, replace
from functools import partial
from math import ceil, inf
from time import monotonic

from optimiser import cache
from optimiser.diagnosis import groups, kept_routes
from optimiser.diagnosis.candidates import FaultRoutes, FaultSearch
from optimiser.diagnosis.check_value import Beside, judged
from optimiser.diagnosis.limits import LEAST, SHORT, Over, TimeOverError, TooMuchError, never
from optimiser.diagnosis.shares import Scene, units_of
from optimiser.model.candidates import Offer, Proposal, known_by
from optimiser.model.job import Job, Severity, Time
from optimiser.model.option import Option
from optimiser.model.plan import ALL_FAULTS, PROFIT, SAFETY, CheckWorth, Notice, Outcome, Remark, Selection, Verdict
from optimiser.model.route import Route
from optimiser.planning import options
from optimiser.planning.kept_mixes import KeptMix, KeptMixes, Steps, TakenRoutes
from optimiser.planning.totals import Reckoned
from optimiser.solver import solve
from optimiser.solver.exact_solve import Clock

Progress = Callable[[str], None]
WORTH_KEEPING = 0.015
"""Seconds of a search from which on its routes are kept in the cache."""
A_MIX_WORTH_KEEPING = 1.0
"""The same of all that leads to a proven mix."""
TOO_MUCH = b"too much"
"""Kept in the place of routes that were too much to search."""
SHARE_OF_TIME = 2 / 3
"""Of the time left when it begins, for the routes, for a mix of them, and for judging the checks in it."""
SHARE_IN_SHORT = 5 / 6
"""Up to then routes that there was no time for are searched in short; after it each option is tried once."""
MOST_NAMED = 8
"""Faults or parts that a remark on what was cut names; of more it says how many they are."""
SECONDS_FOR_A_MIX = 1.5
"""No mix gets less, whatever is left of the time: by then its routes are known. Where quotes were passed over it gets
no more either, for then nothing is proven however long it takes."""


@dataclass(frozen=True)
class Chosen:
    """A selection with what it was chosen from, what each check adds to it, and how its routes were searched.

    ``solved`` is the job as the solver had it: without its hours where they turned out not to matter. ``cut`` says what
    was not searched or judged, ``clock`` is that of the whole plan. ``search`` is None where each option is tried once
    and left at that.
    """

    job: Job
    solved: Job
    offer: Offer
    selection: Selection
    verdicts: Mapping[str, Verdict]
    cut: tuple[Notice, ...]
    clock: Clock
    search: Search | None = None

    @property
    def hours_limited(self) -> bool:
        """Whether the job limits the hours."""
        return self.job.time.minutes is not None

    @property
    def hours_free(self) -> bool:
        """Whether the routes were searched without regard to hours that the job limits."""
        return self.hours_limited and self.solved.time.minutes is None

    def with_selection(self, selection: Selection) -> Chosen:
        """The same choice of another mix, about whose checks nothing is said."""
        return replace(self, selection=selection, verdicts={})


def chosen(job: Job, last: Selection | None, progress: Progress) -> Chosen:
    """The best mix of routes, none of them over the hours, no check in it that is not worth its time.

    All within the job's seconds, or about so: what there is no time for is searched in short, and that is said.
    """
    clock = Clock(job.solve.seconds)
    if not job.settings.fallbacks:
        offer = options.build(job)
        mix = _as_offered(job, offer, solve.best(job, offer, last, progress, clock))
        return Chosen(job, job, offer, mix, {}, passed_over_in(offer), clock)
    offer = options.build(job, whole={fault.id for fault in job.faults})
    kept = KeptMixes.of(job)
    known = kept and kept.nearest_to(last)
    if known and (pick := _as_kept(job, offer, known, progress, clock)):
        return pick
    pick = _chosen(job, offer, last, progress, clock)
    proven = pick.selection.outcome.proven and not pick.cut
    if kept and pick.search and proven and clock.spent > A_MIX_WORTH_KEEPING:
        kept.keep(_to_keep(pick, pick.search, kept.steps(last)))
    return pick


def _chosen(job: Job, offer: Offer, last: Selection | None, progress: Progress, clock: Clock) -> Chosen:
    """The best mix, searched."""
    unlimited = job.model_copy(update={"time": Time()})
    search = Search(unlimited, offer, progress, likely_short(offer), clock)
    pick = replace(_settled(search, last, progress), job=job)
    if too_long(pick):
        progress("the hours matter")
        pick = _settled(Search(job, offer, progress, likely_short(offer), clock), last, progress)
    return pick


def passed_over_in(offer: Offer) -> tuple[Notice, ...]:
    """The remark on parts of which not every quote was looked at."""
    parts = sorted(offer.passed_over, key=lambda part: (-offer.passed_over[part], part))
    return (_about(Remark.QUOTES_CUT, parts, str(sum(offer.passed_over.values()))),) if parts else ()


def _as_offered(job: Job, offer: Offer, mix: Selection) -> Selection:
    """The mix as well known as all quotes were looked at: one with others might cure all that is open."""
    if not offer.passed_over:
        return mix
    stages = [stage for stage in mix.levels if stage in (SAFETY, ALL_FAULTS, PROFIT)]
    stage = next((s for s in stages if mix.levels[s] < _all_cured(job, s)), stages[-1])
    better = max(0, _all_cured(job, stage) - mix.levels[stage])
    unit = "money" if stage == PROFIT else "fixes"
    return mix.model_copy(update={"outcome": Outcome(proven=False, stage=stage, unit=unit, better_at_most=better)})


def _all_cured(job: Job, stage: str) -> int:
    """What a mix would come to that cures for nothing every fault which a stage counts, in the stage's unit."""
    if stage == PROFIT:
        return sum(fault.sale_gain_minor for fault in job.faults)
    counting = (fault for fault in job.faults if stage != SAFETY or fault.severity == Severity.DANGEROUS)
    return sum(ceil(1e6 * fault.importance) for fault in counting)


def _as_kept(job: Job, offer: Offer, known: KeptMix, progress: Progress, clock: Clock) -> Chosen | None:
    """The choice that was made before; None where its routes are not put forward any more."""
    solved = job if known.timed else job.model_copy(update={"time": Time()})
    search = Search(solved, offer, progress, known.told_apart, clock).without(known.unasked)
    mix = known.mix.selection(search.offer().proposals, Outcome(proven=True))
    return None if mix is None else replace(search.pick(mix), job=job, verdicts=known.verdicts)


def _to_keep(pick: Chosen, search: Search, nearest: Steps | None) -> KeptMix:
    """A proven choice as it is kept."""
    return KeptMix(
        nearest=nearest,
        mix=search.taken(pick.selection),
        unasked={fault: one.unasked for fault, one in search.faults.items() if one.unasked},
        told_apart=search.scene.scarce,
        timed=search.scene.timed,
        verdicts=pick.verdicts,
    )


def too_long(pick: Chosen) -> bool:
    """Whether the longest paths together take more than the owner's hours."""
    limit = pick.job.time.minutes
    return limit is not None and _reckoned(pick).minutes > limit


def within_hours(pick: Chosen) -> Chosen:
    """The same choice, with routes that are searched within the hours."""
    whole = options.build(pick.job, whole={fault.id for fault in pick.job.faults})
    clock = Clock(pick.job.solve.seconds)
    gone = {f: {check.check for check in verdict.checks if check.left_out} for f, verdict in pick.verdicts.items()}
    search = Search(pick.job, whole, lambda _: None, pick.offer.told_apart, clock).without(gone)
    return replace(pick, solved=pick.job, offer=search.offer(), search=search)


def _settled(search: Search, last: Selection | None, progress: Progress) -> Chosen:
    """Choose, judge the checks, and choose again without the least of each fault that are not worth their time.

    Among equal mixes is decided in the end. A further round for which there is no time is not begun: what it would have
    left out stays, and is said to be there.
    """
    gone: dict[str, tuple[CheckWorth, ...]] = {}
    search, verdicts, pick, solved = _judged(search, last, progress, None)
    while idle := search.idle(verdicts):
        try:
            search = search.without({fault: {check.check} for fault, check in idle.items()})
            search, verdicts, pick, solved = _judged(search, last, progress, solved, whole=True)
        except TimeOverError:
            pick = replace(pick, cut=(*pick.cut, _about(Remark.CHECKS_UNJUDGED, sorted(idle))))
            break
        gone |= {fault: (*gone.get(fault, ()), check) for fault, check in idle.items()}
    faults = {*verdicts, *gone}
    return replace(pick, verdicts={f: _with(verdicts.get(f, Verdict()), gone.get(f, ())) for f in faults})


def _judged(
    search: Search,
    last: Selection | None,
    progress: Progress,
    solved: solve.Solved | None,
    *,
    whole: bool = False,
) -> tuple[Search, Mapping[str, Verdict], Chosen, solve.Solved]:
    """The best mix with its checks judged; ties are broken only once none of them is idle.

    ``solved`` is the answer from a round before, which helps. ``whole``: raises ``TimeOverError`` rather than search in
    short.
    """
    while True:
        anew = search.faults.keys() - search.found.keys()
        put = search.offer(whole=whole)
        solved = _mixed(search, put.without_outdone(), last, progress, solved, anew)
        judged: Selection | None = None
        for decided in (solved.any_of_equals, solved.first_of_equals):
            mix = decided()
            if short := overdrawn(put, mix):
                progress("too few of some pieces for all")
                search = search.telling_apart(short)
                break
            if mix != judged:
                judged, (pick, verdicts) = mix, search.judge(search.pick(mix))
            if search.idle(verdicts):
                return search, verdicts, pick, solved
        else:
            return search, verdicts, pick, solved


def _mixed(
    search: Search,
    put: Offer,
    last: Selection | None,
    progress: Progress,
    before: solve.Solved | None,
    anew: Collection[str],
) -> solve.Solved:
    """The best mix of what is put forward, which is less than ``before`` but for the faults searched ``anew``.

    Where there is no time to prove it, the others stay as they were.
    """
    share = 0.0 if put.passed_over else SHARE_OF_TIME
    if before is None or before.found.outcome.proven:
        solved = solve.solved(search.job, put, last, progress, before, search.clock.part(share, SECONDS_FOR_A_MIX))
        if before is None or solved.found.outcome.proven:
            return solved
    taken = {known_by(route) for route in before.any_of_equals().routes}
    near = replace(put, routes=tuple(p for p in put.proposals if p.fault in anew or known_by(p) in taken))
    clock = search.clock.part(share, SECONDS_FOR_A_MIX)
    return solve.solved(search.job, near, last, progress, clock=clock).of_fewer(before)


def likely_short(offer: Offer) -> frozenset[str]:
    """Quotes and shelf rows of which there are fewer than all faults together may want for their repairs."""
    wanted: dict[str, dict[str, int]] = defaultdict(dict)
    quotes = {line.quote.id: line.quote for option in offer.options for line in option.lines}
    for option in offer.options:
        for line in option.lines:
            by_fault = wanted[line.quote.id]
            by_fault[option.fault] = max(by_fault.get(option.fault, 0), line.quote.packs_for(line.units))
    limits = {name: quote.stock for name, quote in quotes.items() if quote.stock is not None}
    return frozenset(name for name, stock in limits.items() if sum(wanted[name].values()) > stock)


def overdrawn(offer: Offer, mix: Selection) -> frozenset[str]:
    """Quotes of which a mix would take more than there are, whatever may come up."""
    wanted = Counter(dict(mix.packs))
    for line in mix.certain:
        if line.quote.supplier is None:
            wanted[line.quote.id] += line.units
    for route in mix.routes:
        wanted.update(route.other_packs)
    quotes = {quote.id: quote for quote in offer.quotes}
    quotes |= {line.quote.id: line.quote for option in offer.options for line in option.lines}
    return frozenset(q for q, packs in wanted.items() if (stock := quotes[q].stock) is not None and packs > stock)


def _about(remark: Remark, names: Sequence[str], *before: str) -> Notice:
    """A remark on work that there was no time or room for, with the first few of its faults or parts."""
    more = (f"{len(names) - MOST_NAMED} more",) if len(names) > MOST_NAMED else ()
    return Notice(remark=remark, about=(*before, *names[:MOST_NAMED], *more))


def _with(verdict: Verdict, gone: Iterable[CheckWorth]) -> Verdict:
    """The verdict with the checks that were left out before it."""
    return verdict.model_copy(update={"checks": (*verdict.checks, *gone)})


def _reckoned(pick: Chosen) -> Reckoned:
    return Reckoned(pick.job, pick.selection, {quote.id: quote for quote in pick.offer.quotes})


def with_enough_pieces(pick: Chosen, quotes: frozenset[str]) -> Chosen | None:
    """The same choice with routes that say each what they take of these quotes; None where all of them do already."""
    if pick.search is None or quotes <= pick.offer.told_apart:
        return None
    search = pick.search.telling_apart(quotes)
    return replace(pick, offer=search.offer(), search=search)


def _can_spare(search: FaultSearch) -> bool:
    """Whether less would do for all that counts but money: chances count in steps, and savings are looked for."""
    return search.thrifty and search.scene.job.settings.aim == "fixes" and bool(search.goal.loss)


class Search:
    """The searches of all faults of a job, kept so that only what changes is searched again."""

    def __init__(
        self,
        job: Job,
        offer: Offer,
        progress: Progress,
        scarce: frozenset[str] = frozenset(),
        clock: Clock | None = None,
    ) -> None:
        """``clock`` is that of the whole plan (None: there is no limit)."""
        self.job, self.whole, self.progress, self.clock = job, offer, progress, clock or Clock(inf)
        believed = groups.standings(job)
        self.scene = Scene.of(job, offer.options, offer.quotes, scarce, timed=job.time.minutes is not None)
        self.faults = {
            fault.id: FaultSearch(
                self.scene,
                fault,
                believed[fault.id].chances,
                groups.with_twins(job, fault),
                [option for option in offer.options if option.fault == fault.id],
                () if options.needs_licence(job, fault) else fault.checks,
                groups.tables(job, fault),
            )
            for fault in sorted(job.faults, key=lambda f: f.id)
        }
        self.cache = cache.Cache.of_user("routes") if job.solve.cache else None
        self.found: dict[str, FaultRoutes] = {}
        self.judged: dict[tuple[str, ...], tuple[int, frozenset[str], FaultRoutes]] = {}

    def offer(self, *, whole: bool = False) -> Offer:
        """What the mix may choose from: the quickest faults are searched first, in short those left once time is over.

        ``whole``: raises ``TimeOverError`` instead of that.
        """
        left = sorted((search for f, search in self.faults.items() if f not in self.found), key=lambda s: s.size)
        over, in_short = self.clock.part(SHARE_OF_TIME).over, self.clock.part(SHARE_IN_SHORT).over
        for search in left:
            self.progress(f"routes, fault {len(self.found) + 1} of {len(self.faults)}")
            able, found = self._fitting(search, over) if whole else self._in_time(search, over, in_short)
            self.faults[search.fault.id], self.found[search.fault.id] = able, found
        routes = tuple(p for fault in self.faults for p in self.found[fault].proposals)
        return replace(self.whole, routes=routes, told_apart=self.scene.scarce)

    def _in_time(self, search: FaultSearch, over: Over, in_short: Over) -> tuple[FaultSearch, FaultRoutes]:
        """The routes of a fault, in short where it is over with searching them all, or else the least of them."""
        for able, until in ((search, over), (search.with_effort(SHORT), in_short)):
            try:
                return self._fitting(able, until)
            except TimeOverError:
                continue
        return self._fitting(search.with_effort(LEAST))

    def _fitting(self, search: FaultSearch, over: Over = never) -> tuple[FaultSearch, FaultRoutes]:
        """The routes of a fault, with as many checks as are not too much; the search that found them before.

        What only saves money is let go of before a check is.
        """
        while True:
            try:
                return search, self._searched(search, over)
            except TooMuchError:
                search = search.without_savings() if _can_spare(search) else search.with_fewer_checks()

    def _searched(self, search: FaultSearch, over: Over) -> FaultRoutes:
        """The routes of a fault, taken from the cache if a search like this took long before.

        Raises ``TimeOverError`` once it is ``over``, ``TooMuchError`` where it is too much.
        """
        if self.cache is None or search.effort is not None:
            return search.put_forward(search.searched(over))
        content = [cache.version(), *kept_routes.content(search)]
        names = [cache.name_of([*content, kept_routes.money(search, binds=binds)]) for binds in (False, True)]
        for name, binds in zip(names, (False, True), strict=True):
            kept = self.cache.get(name)
            if kept == TOO_MUCH:
                raise TooMuchError
            found = None if kept is None else kept_routes.unpacked(search, kept)
            if found is not None and (found.needs_minor > search.cash_minor) == binds:
                return search.put_forward(found)
        began = monotonic()
        try:
            found = search.searched(over)
        except TooMuchError:
            self.cache.put(names[True], TOO_MUCH)
            raise
        if monotonic() - began > WORTH_KEEPING:
            self.cache.put(names[found.needs_minor > search.cash_minor], kept_routes.packed(search, found))
        return search.put_forward(found)

    def asked(self, fault: str, options: Iterable[Option], over: Over = never) -> Offer | None:
        """What the mix could choose from if these were the fault's options; the other faults are not searched again.

        None where it would not be all that there is, or once it is ``over``.
        """
        try:
            _, found = self._fitting(self.faults[fault].asked(list(options)), over)
        except TimeOverError:
            return None
        if found.fallbacks is not None or found.short > 0 or found.short_minor > 0:
            return None
        routes = tuple(p for name in self.faults for p in (found if name == fault else self.found[name]).proposals)
        return replace(self.whole, routes=routes, told_apart=self.scene.scarce).without_outdone({fault})

    def pick(self, mix: Selection) -> Chosen:
        """A mix of the proposals, as well known as the routes were searched."""
        return Chosen(self.job, self.job, self.offer(), self.known_to(mix), {}, self.cut, self.clock, self)

    @property
    def cut(self) -> tuple[Notice, ...]:
        """Remarks on parts of the search that were left out."""
        found = [self.found[fault] for fault in self.faults if fault in self.found]
        routes = {one.fault: one.fallbacks for one in found if one.fallbacks is not None}
        checks = {one.fault: one.unsearched for one in found if one.unsearched}
        ahead = [one.fault for one in found if one.ahead_left]
        hurried = [one.fault for one in found if one.hurried]
        return (
            *passed_over_in(self.whole),
            *(Notice(remark=Remark.ROUTES_CUT, about=(fault, str(most))) for fault, most in routes.items()),
            *(Notice(remark=Remark.CHECKS_CUT, about=(fault, str(most))) for fault, most in checks.items()),
            *(Notice(remark=Remark.AHEAD_CUT, about=(fault,)) for fault in ahead),
            *([_about(Remark.TIME_OVER, hurried)] if hurried else []),
        )

    def without(self, checks: Mapping[str, Collection[str]]) -> Search:
        """The searches without these checks by fault; those of the other faults are kept."""
        fewer = copy(self)
        fewer.faults = {f: search.without(checks[f]) if f in checks else search for f, search in self.faults.items()}
        fewer.found = {fault: found for fault, found in self.found.items() if fault not in checks}
        return fewer

    def telling_apart(self, quotes: Collection[str]) -> Search:
        """The searches with every route saying what it takes of these quotes too; those of other suppliers are kept."""
        scene = Scene.of(
            self.job, self.whole.options, self.whole.quotes, self.scene.scarce.union(quotes), timed=self.scene.timed
        )
        known = {q.id: q for q in (*self.whole.quotes, *(x.quote for o in self.whole.options for x in o.lines))}
        suppliers = {known[name].supplier for name in quotes} - {None}
        touched = {
            fault
            for fault, search in self.faults.items()
            for option in search.options
            if option.suppliers & suppliers or any(line.quote.id in quotes for line in option.lines)
        }
        told = copy(self)
        told.scene = scene
        told.faults = {f: one.told_apart(scene) if f in touched else one for f, one in self.faults.items()}
        told.found = {fault: found for fault, found in self.found.items() if fault not in touched}
        return told

    def taken(self, mix: Selection) -> TakenRoutes:
        """A mix of the proposals as it is kept."""
        return TakenRoutes.of(mix, (_proposal_of(route, self.found[route.fault].proposals) for route in mix.routes))

    def known_to(self, selection: Selection) -> Selection:
        """The selection with its outcome as well known as the routes were searched."""
        if self.whole.passed_over:
            return _as_offered(self.job, self.whole, selection)
        short = [found for found in self.found.values() if found.short > 0 or found.short_minor > 0]
        if any(found.savings_cut for found in self.found.values()):
            cheapest = selection.outcome.model_copy(update={"cheapest": False})
            selection = selection.model_copy(update={"outcome": cheapest})
        if not short:
            return selection
        known, settings = selection.outcome, self.job.settings
        faults = {fault.id: fault for fault in self.job.faults}
        stage, counting = ALL_FAULTS, short
        if settings.aim == "profit":
            grave = [f for f in short if settings.safety_first and faults[f.fault].severity == Severity.DANGEROUS]
            stage, counting = (SAFETY, grave) if grave or known.stage == SAFETY else (PROFIT, short)
        # both chances count to the nearest step
        more = sum(
            f.short_minor if stage == PROFIT else 1e6 * faults[f.fault].importance * (f.short + settings.chance_step)
            for f in counting
        )
        as_solved = known.better_at_most if known.stage in (SAFETY, stage) else 0  # the rest is only looked at after it
        better = as_solved + ceil(more)
        stage = SAFETY if known.stage == SAFETY else stage
        if stage != PROFIT:
            better = min(better, _all_cured(self.job, stage) - selection.levels.get(stage, 0))
        outcome = Outcome(
            proven=False,
            stage=stage,
            unit="money" if stage == PROFIT else "fixes",
            better_at_most=better,
            cheapest=False,
        )
        return selection.model_copy(update={"outcome": outcome})

    def judge(self, pick: Chosen) -> tuple[Chosen, dict[str, Verdict]]:
        """A verdict on the checks of every fault that the plan works on, as far as there is time to judge them.

        With the choice, which says whose were not.
        """
        routes = {fault: found.proposals for fault, found in self.found.items()}
        chosen = {route.fault: _proposal_of(route, routes[route.fault]) for route in pick.selection.routes}
        checked = [fault for fault in chosen if self.faults[fault].checks]
        over, verdicts = self.clock.part(SHARE_OF_TIME).over, dict[str, Verdict]()
        for fault in checked:
            beside = Beside(self.scene, [other for name, other in chosen.items() if name != fault])
            without = partial(self._without, fault, over=over)
            try:
                found = None if over() else judged(self.faults[fault], beside, chosen[fault], routes[fault], without)
            except TimeOverError:
                found = None
            if found is None:
                said = _about(Remark.CHECKS_UNJUDGED, [name for name in checked if name not in verdicts])
                return replace(pick, cut=(*pick.cut, said)), verdicts
            verdicts[fault] = found
        return pick, verdicts

    def _without(self, fault: str, check: str, cash_minor: int, over: Over) -> FaultRoutes:
        """The routes of a fault without a check that take no more than this beside what they share; kept, with room."""
        fewer = self.faults[fault].without({check})
        known = self.judged.get((fault, *(c.id for c in fewer.checks)))
        if known is None or known[0] < cash_minor or known[1] != fewer.scene.scarce:
            room = min(cash_minor + cash_minor // 8, fewer.cash_minor)
            known = self.judged[fault, *(c.id for c in fewer.checks)] = (
                room,
                fewer.scene.scarce,
                self._fitting(fewer.within(room), over)[1],
            )
        return known[2]

    def idle(self, verdicts: Mapping[str, Verdict]) -> dict[str, CheckWorth]:
        """Of each fault the check that its route makes and that is least worth its time, where any is not."""
        must_gain = self.job.settings.check_must_gain
        must_save = must_gain * max(0, self.job.pot.remaining_minor)
        weight = {fault.id: fault.importance for fault in self.job.faults}
        least: dict[str, CheckWorth] = {}
        for fault, verdict in verdicts.items():
            idle = [
                check.model_copy(update={"taken": False, "left_out": True})
                for check in verdict.checks
                if check.taken
                and weight[fault] * check.fixes < must_gain
                and max(check.saved_minor, check.earned_minor) < must_save
            ]
            if idle:
                least[fault] = min(idle, key=lambda check: (check.fixes, check.saved_minor, check.check))
        return least


def _proposal_of(route: Route, proposals: Iterable[Proposal]) -> Proposal:
    """The proposal of this route."""
    known = (route.first_step, route.cash_minor, units_of(route.certain))
    alike = (p for p in proposals if (p.first_step, p.cash_minor, units_of(p.certain)) == known)
    return next(p for p in alike if p.read() == route)
