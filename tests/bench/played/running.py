"""Many jobs in many worlds, every policy in the same ones; what came of them side by side."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import asdict, dataclass, field
from itertools import pairwise
from pathlib import Path
from statistics import fmean, stdev

from optimiser.model.job import Job, Severity
from tests.bench.played import jobs, policies
from tests.bench.played.perfect import perfect
from tests.bench.played.play import Known, Tally, play
from tests.bench.played.truth import Truth, mistyped

PERFECT = "perfect knowledge"
SIDE_BY_SIDE = ("weighted", "cured", "dangerous")
HEAD = f"{'':34}weighted  fixes  dang.   spent  min. steps unused{'d weighted':>17}{'d fixes':>17}{'d dangerous':>17}"
BINS = (0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 1.0)


@dataclass(frozen=True)
class Task:
    """One job: its seed or the example's name, in so many worlds, typed wrong by so much log-odds."""

    job: int | str
    worlds: int = 2
    off: float = 0.0
    names: tuple[str, ...] = tuple(policies.POLICIES)
    safety_first: bool = True
    seconds: float = 5.0
    certified: bool = True

    def made(self) -> Job:
        """The job as typed."""
        if isinstance(self.job, str):
            return jobs.example(self.job, self.seconds)
        return jobs.job_of(self.job, safety_first=self.safety_first, seconds=self.seconds)


@dataclass(frozen=True)
class Played:
    """One job with what came of it: by policy a tally for each world.

    ``promised`` are the chances of the first plan by fault, ``mended`` by world the faults that following it cured.
    """

    job: int | str
    faults: int
    dangerous: int
    promised: dict[str, float]
    weights: dict[str, float]
    tallies: dict[str, list[Tally]]
    best: list[tuple[float, int]]
    failed: list[str] = field(default_factory=list)


def played(task: Task) -> Played:
    """Play one job in all its worlds by all policies."""
    job = task.made()
    if not task.certified:
        policies.UNCERTIFIED.add(job.settings.title)
    truths = []
    for world in range(task.worlds):
        seed = f"{task.job}/{world}"
        truths.append(Truth(mistyped(job, task.off, seed) if task.off else job, seed))
    tallies: dict[str, list[Tally]] = {}
    failed = []
    for name in task.names:
        known: Known = {}
        try:
            tallies[name] = [play(job, truth, policies.POLICIES[name], known) for truth in truths]
        except Exception as error:  # noqa: BLE001 - a crash on one job is a finding, and the others go on
            failed.append(f"{name}: {type(error).__name__}: {str(error)[:200]}")
    promised = {} if failed else {route.fault: route.chance for route in policies.planned(job).selection.routes}
    return Played(
        job=task.job,
        faults=len(job.faults),
        dangerous=sum(fault.severity is Severity.DANGEROUS for fault in job.faults),
        promised=promised,
        weights={fault.id: fault.importance for fault in job.faults},
        tallies=tallies,
        best=[perfect(job, truth) for truth in truths],
        failed=failed,
    )


def run(tasks: Sequence[Task], processes: int = 2, out: Path | None = None, *, quiet: bool = False) -> list[Played]:
    """All jobs, in so many processes; every job is written to ``out`` as a line of JSON as soon as it is done."""
    done: list[Played] = []
    with ProcessPoolExecutor(processes) as pool:
        for number, ended in enumerate(as_completed([pool.submit(played, task) for task in tasks]), start=1):
            one = ended.result()
            done.append(one)
            if out is not None:
                with out.open("a") as lines:
                    lines.write(json.dumps(asdict(one)) + "\n")
            if not quiet and (number % 20 == 0 or one.failed):
                print(f"{number} of {len(tasks)}", *(f"job {one.job}: {failed}" for failed in one.failed), flush=True)
    return done


def read_back(lines: Iterable[str]) -> list[Played]:
    """What a run wrote down."""
    rows = [json.loads(line) for line in lines]
    return [
        Played(**(row | {"tallies": {name: [Tally(**t) for t in some] for name, some in row["tallies"].items()}}))
        for row in rows
    ]


def paired(done: Iterable[Played], ours: str, other: str, what: str) -> tuple[float, float]:
    """The mean difference a job, ours less the other's, and its standard error; worlds of a job are averaged first."""
    differences = [
        fmean(getattr(a, what) - getattr(b, what) for a, b in zip(one.tallies[ours], one.tallies[other], strict=True))
        for one in done
        if ours in one.tallies and other in one.tallies
    ]
    error = stdev(differences) / len(differences) ** 0.5 if len(differences) > 1 else 0.0
    return fmean(differences), error


def overruns(done: Iterable[Played]) -> list[str]:
    """Where a policy ever had less than nothing."""
    return [
        f"job {one.job}, {name}"
        for one in done
        for name, tallies in one.tallies.items()
        if any(tally.left_minor < 0 for tally in tallies)
    ]


def table(done: Sequence[Played]) -> str:
    """Every policy with its means a job, and the plan against it."""
    names = [name for name in policies.POLICIES if any(name in one.tallies for one in done)]
    ours = names[0]
    worlds = sum(len(one.best) for one in done)
    grave = sum(one.dangerous * len(one.best) for one in done) or 1
    lines = [
        f"{len(done)} jobs, {worlds} worlds; means a job; d: the first row less this one, with the error of the mean",
        HEAD,
    ]
    for name in names:
        tallies = [tally for one in done for tally in one.tallies.get(name, ())]
        line = (
            f"{name:34}{fmean(t.weighted for t in tallies):9.3f}{fmean(t.cured for t in tallies):7.3f}"
            f"{sum(t.dangerous for t in tallies) / grave:7.1%}{fmean(t.spent_minor for t in tallies) / 100:8.2f}"
            f"{fmean(t.minutes for t in tallies):6.0f}{fmean(t.steps for t in tallies):6.1f}"
            f"{fmean(t.unused for t in tallies):7.2f}"
        )
        if name != ours:
            for what in SIDE_BY_SIDE:
                mean, error = paired(done, ours, name, what)
                line += f"{mean:+9.3f} ±{error:.3f} "
        lines.append(line)
    best = [found for one in done for found in one.best]
    lines.append(f"{PERFECT:34}{fmean(w for w, _ in best):9.3f}{'':7}{sum(d for _, d in best) / grave:7.1%}")
    return "\n".join([*lines, "", reliability(done, ours), "", *_said(done)])


def _said(done: Sequence[Played]) -> list[str]:
    over = overruns(done)
    lines = [f"overruns: {len(over)}" + "".join(f"\n  {where}" for where in over)]
    failed = [f"job {one.job}: {why}" for one in done for why in one.failed]
    lines.append(f"failed: {len(failed)}" + "".join(f"\n  {where}" for where in failed))
    losing = sorted((_shortfall(one), str(one.job)) for one in done if one.tallies)[-10:]
    lines.append("most behind the best habit: " + ", ".join(f"{job} ({short:.2f})" for short, job in reversed(losing)))
    return lines


def _shortfall(one: Played) -> float:
    """How far the plan is behind the habit that does best on average on this job."""
    means = {name: fmean(t.weighted for t in tallies) for name, tallies in one.tallies.items()}
    ours = [value for name, value in means.items() if name in policies.PLANS]
    habits = [value for name, value in means.items() if name in policies.HABITS]
    return max(habits) - ours[0] if ours and habits else 0.0


def reliability(done: Sequence[Played], ours: str) -> str:
    """What the first plan promised against what came of following it with planning again, a job."""
    whole = [one for one in done if ours in one.tallies]
    said = [sum(one.weights[f] * p for f, p in one.promised.items()) for one in whole]
    came = [fmean(t.weighted for t in one.tallies[ours]) for one in whole]
    off = [b - a for a, b in zip(said, came, strict=True)]
    error = stdev(off) / len(off) ** 0.5 if len(off) > 1 else 0.0
    both = f"fixes expected by the first plan {fmean(said):.3f}, realised with planning again {fmean(came):.3f}"
    lines = [f"{both} ({fmean(off):+.3f} ±{error:.3f})"]
    for low, high in pairwise(BINS):
        some = [
            (p, f in t.mended) for one in whole for f, p in one.promised.items() for t in one.tallies[ours]
            if low < p <= high
        ]  # fmt: skip
        if some:
            lines.append(
                f"  faults promised {low:.1f} to {high:.1f}: {len(some)}, said {fmean(p for p, _ in some):.3f}, "
                f"cured {fmean(cured for _, cured in some):.3f}"
            )
    return "\n".join(lines)
