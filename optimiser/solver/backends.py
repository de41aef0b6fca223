"""The solvers behind one face: HiGHS in process, CBC where PuLP brings it or finds it.

Traps that are dealt with here: default gaps above zero, a time limit reported as an optimum, columns at 0.9999999,
text that solver code prints past Python's standard output, PuLP 3 and 4 naming things differently.
"""

from __future__ import annotations

import contextlib
import math
import os
import sys
import time
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from threading import Lock
from typing import Any

import pulp

from optimiser.errors import SolverError
from optimiser.solver.program import Mix, Program, Variable

TOLERANCE = 1e-8
MANY_ROUTES = 500
"""Open routes from which on the presolve of HiGHS is to do less."""
FEW_ROUTES = 60
"""Open routes below which HiGHS is asked with its presolve and without it: 1.16 proves wrong optima of small mixes in
either way (those met had 26 and 38 routes), none that both prove, and none of some 1,500 random mixes of 40 to 600."""
IDLE_RULES, IDLE_ON_MANY_ROUTES = (13,), (15, 16)
FEW_HEURISTICS = {
    "mip_heuristic_run_feasibility_jump": False,
    "mip_heuristic_run_rens": False,
    "mip_heuristic_run_rins": False,
}
"""Where little is left of a mix: with these it took twice as long, without any often longer still. Where few routes are
open, the jump for a feasible point alone is two thirds of the whole search (2 of 3 ms), and no answer was another
without it."""
VERY_MANY_ROUTES, SECONDS_FOR_LONG_STEPS = 4_000, 20.0
"""With more open routes, where there is less time: HiGHS looks at no clock within this heuristic (8 s past 3 s).

Where a good mix is known of few routes, a tenth is saved without it; else it is worth its time."""
NO_LONG_STEPS = {"mip_heuristic_run_root_reduced_cost": False}
FARTHEST_FROM_WHOLE = 1e-4


@dataclass(frozen=True)
class Answer:
    """What a solver gave: whole columns by name, the objective (minimised), a bound below it, and whether it finished.

    ``values`` is empty where there is no point to read.
    """

    values: dict[str, int]
    objective: float
    bound: float
    finished: bool
    impossible: bool = False


NOTHING = Answer({}, math.inf, -math.inf, finished=False)
IMPOSSIBLE = Answer({}, math.inf, math.inf, finished=True, impossible=True)


def run(program: Program, seconds: float, *, careful: bool, at_most: float = math.inf) -> Answer:
    """Solve the program as it stands with the job's solver; ``careful`` switches presolve off.

    Nothing above ``at_most`` is looked for, which some answer is known not to pass; of very many routes no good mix is
    found soon so. No solver is given that answer to begin from: HiGHS 1.16 then reports optima that its columns do not
    reach.
    """
    with STANDARD_OUTPUT.shut():
        if program.job.solve.solver == "cbc":
            return _run_cbc(program, seconds, careful=careful)
        bound = at_most if _open_routes(program) < VERY_MANY_ROUTES else math.inf
        return _run_highs(program, seconds, bound, careful=careful)


@dataclass(frozen=True)
class Relaxed:
    """The relaxation's objective, which no whole answer is below; each column's reduced cost, and those it uses."""

    objective: float
    reduced_costs: dict[str, float]
    used: set[str]


def relaxed(program: Program, columns: Iterable[Variable], seconds: float, unit: int = 1) -> Relaxed | None:
    """Solve the program as it stands with fractions allowed, and look at these columns; its objective is in ``unit``.

    None where HiGHS is not to be used or does not finish.
    """
    if program.job.solve.solver == "cbc":
        return None
    import highspy  # noqa: PLC0415 - heavy, and not needed with CBC

    with STANDARD_OUTPUT.shut():
        program.problem.solve(pulp.HiGHS(msg=False, mip=False, threads=1, timeLimit=seconds))
    model = program.problem.solverModel
    if model.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return None
    columns = list(columns)
    costs = {column.name: unit * float(column.dj or 0.0) for column in columns}
    used = {column.name for column in columns if (column.value() or 0.0) > TOLERANCE}
    return Relaxed(unit * float(model.getInfo().objective_function_value), costs, used)


def least_of_cuts(cuts: Sequence[tuple[float, Sequence[float]]], most: Sequence[float]) -> tuple[float, list[float]]:
    """The least value of ``max(constant + slope . x)`` over ``0 <= x <= most``, and that x; a small linear program."""
    import highspy  # noqa: PLC0415 - heavy, and not needed with CBC
    import numpy as np  # noqa: PLC0415

    with STANDARD_OUTPUT.shut():
        solver: Any = highspy.Highs()  # type: ignore[no-untyped-call]
        solver.setOptionValue("output_flag", False)
        solver.setOptionValue("threads", 1)
        solver.addVar(-highspy.kHighsInf, highspy.kHighsInf)
        solver.changeColCost(0, 1.0)
        for high in most:
            solver.addVar(0.0, float(high))
        places = np.arange(len(most) + 1, dtype=np.int32)
        for constant, slope in cuts:
            row = np.array([1.0, *(-rise for rise in slope)])
            solver.addRow(float(constant), highspy.kHighsInf, len(places), places, row)
        solver.run()
        values = list(solver.getSolution().col_value)
    return values[0], values[1:]


class _StandardOutput:
    """Shuts file descriptor 1 while any thread solves: solver code in C++ prints past ``sys.stdout``.

    HiGHS 1.16 prints a banner there. It runs outside Python's lock, so several threads solve at a time.
    """

    def __init__(self) -> None:
        self.lock, self.solving, self.kept = Lock(), 0, -1

    @contextlib.contextmanager
    def shut(self) -> Iterator[None]:
        """Nothing reaches standard output inside; the last one out opens it again."""
        with self.lock:
            self.solving += 1
            if self.solving == 1:
                self._close()
        try:
            yield
        finally:
            with self.lock:
                self.solving -= 1
                if self.solving == 0 and self.kept >= 0:
                    os.dup2(self.kept, 1)
                    os.close(self.kept)
                    self.kept = -1

    def _close(self) -> None:
        with contextlib.suppress(
            OSError, ValueError, AttributeError
        ):  # a program without a standard output has nothing to keep clean
            sys.stdout.flush()
            self.kept = os.dup(1)
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, 1)
            os.close(nowhere)


STANDARD_OUTPUT = _StandardOutput()


def _run_highs(program: Program, seconds: float, at_most: float, *, careful: bool) -> Answer:
    if careful or not _few_to_prove(program):
        return _asked_of_highs(program, seconds, at_most, presolve=not careful)
    began = time.monotonic()
    answer = _asked_of_highs(program, seconds, at_most, presolve=True)
    left = seconds - (time.monotonic() - began)
    if not answer.finished or answer.impossible or left <= 0:
        return answer
    bare = _asked_of_highs(program, left, answer.objective, presolve=False)
    return bare if bare.values and _reached(program, bare) < _reached(program, answer) else answer


def _reached(program: Program, answer: Answer) -> float:
    """What an answer's columns come to: of great amounts HiGHS reports less now and then (1378490.80 for .8125)."""
    terms = [(factor, answer.values.get(column.name)) for column, factor in program.problem.objective.items()]
    whole = [factor * value for factor, value in terms if value is not None]
    return math.fsum(whole) if len(whole) == len(terms) else answer.objective


def _asked_of_highs(program: Program, seconds: float, at_most: float, *, presolve: bool) -> Answer:
    # heuristics, symmetry or node cuts off, pseudo-cost thresholds and the simplex strategy made no difference;
    # presolve off took a third longer, a row that asks for better than a known answer three times as long
    import highspy  # noqa: PLC0415 - heavy, and not needed with CBC

    solver = pulp.HiGHS(
        msg=False,
        gapRel=0,
        gapAbs=0,
        threads=1,
        timeLimit=seconds,
        mip_feasibility_tolerance=TOLERANCE,
        mip_allow_restart=False,  # a third faster on jobs of this kind
        presolve_rule_off=sum(1 << rule for rule in _idle_rules(program)),
        presolve="choose" if presolve else "off",
        objective_bound=at_most,
        **(FEW_HEURISTICS if _few_to_prove(program) or _narrowed(program) else {}),
        **(NO_LONG_STEPS if _without_long_steps(program, seconds, at_most) else {}),
    )
    program.problem.solve(solver)
    model = program.problem.solverModel
    status, info = model.getModelStatus(), model.getInfo()
    if status in (highspy.HighsModelStatus.kInfeasible, highspy.HighsModelStatus.kUnboundedOrInfeasible):
        return IMPOSSIBLE
    if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return NOTHING
    finished = status == highspy.HighsModelStatus.kOptimal
    objective = info.objective_function_value
    bound = info.mip_dual_bound
    if finished and math.isinf(bound):
        bound = objective  # settled in presolve: HiGHS then says optimal and may leave the bound unset
    return Answer(_whole_values(program), objective, bound, finished)


def _idle_rules(program: Program) -> tuple[int, ...]:
    """Presolve rules of HiGHS that cost more time than they save.

    Looking for parallel rows (13) finds none here and takes a third of presolve on large jobs. Sparsifying (15) and
    probing (16) take up to half of the whole time where very many routes are open (marigold: 7.6 s in HiGHS with them,
    4.5 s without), and are worth theirs on few: plain jobs of 400 options take a tenth longer without them.
    """
    return IDLE_RULES if _open_routes(program) < MANY_ROUTES else (*IDLE_RULES, *IDLE_ON_MANY_ROUTES)


def _few_to_prove(program: Program) -> bool:
    return isinstance(program, Mix) and not program.sketched and _open_routes(program) in range(1, FEW_ROUTES)


def _without_long_steps(program: Program, seconds: float, at_most: float) -> bool:
    if math.isfinite(at_most) and _narrowed(program):
        return True
    return seconds < SECONDS_FOR_LONG_STEPS and _open_routes(program) > VERY_MANY_ROUTES


def _narrowed(program: Program) -> bool:
    return isinstance(program, Mix) and program.narrowed


def _open_routes(program: Program) -> int:
    """The routes of a mix that may be taken; 0 for any other program."""
    return sum(bool(column.upBound) for column in program.take.values()) if isinstance(program, Mix) else 0


def _run_cbc(program: Program, seconds: float, *, careful: bool) -> Answer:
    solver = _cbc(seconds, careful=careful)
    outcome = program.problem.solve(solver)
    if hasattr(outcome, "has_solution"):  # PuLP 4
        status, feasible = int(outcome.status), bool(outcome.has_solution)
        finished = status == 1
    else:
        status, solution = program.problem.status, program.problem.sol_status
        feasible, finished = solution in (1, 2), solution == 1
    if status == -1:
        return IMPOSSIBLE
    if not feasible:
        return NOTHING
    try:
        values = _whole_values(program)
    except SolverError:
        return NOTHING  # stopped by the time limit, CBC leaves the relaxation's fractions
    objective = float(program.problem.objective.value() or 0.0)
    return Answer(values, objective, objective if finished else -math.inf, finished)


def _cbc(seconds: float, *, careful: bool) -> Any:
    wanted = {
        "msg": False,
        "gapRel": 0.0,
        "gapAbs": 0.0,
        "threads": 1,
        "timeLimit": max(1, math.ceil(seconds)),
        "options": ["integerTolerance 1e-8", *(["preprocess off"] if careful else [])],
    }
    for name in ("PULP_CBC_CMD", "COIN_CMD"):
        if hasattr(pulp, name):
            solver = getattr(pulp, name)(**wanted)
            if solver.available():
                return solver
    raise SolverError("CBC is not on this machine: PuLP 3 brings it, PuLP 4 needs `pip install optimiser[cbc]`")


def _whole_values(program: Program) -> dict[str, int]:
    values: dict[str, int] = {}
    for column in program.integers:
        value = column.value() or 0.0
        whole = round(value)
        if abs(value - whole) > FARTHEST_FROM_WHOLE:
            raise SolverError(f"the solver left {column.name} at {value}")
        values[column.name] = whole
    return values
