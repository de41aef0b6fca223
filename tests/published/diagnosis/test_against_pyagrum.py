"""Posteriors and decisions against pyAgrum, an independent implementation of Bayesian networks (LGPL, PyPI).

The networks are written from what the job means, never from the program's own reading of it.
"""

import random
from dataclasses import dataclass

import pytest

from optimiser.diagnosis.case import Case
from optimiser.model.evidence import FailedAttempt, Finding, Piece
from optimiser.model.job import Check, Fault, Repair
from optimiser.model.option import Line, Option
from optimiser.model.quotes import Quote
from optimiser.orders import OwnLanded
from tests.frontier import frontier, profit
from tests.one_fault import group_posteriors, posterior

gum = pytest.importorskip("pyagrum")


@dataclass(frozen=True)
class Meant:
    """A fault as it is written in a job, and what the writing means: the network's tables are made of this alone."""

    fault: Fault
    prior: dict[str, float]
    tables: dict[str, dict[str, dict[str, float]]]
    """By check, result and cause."""

    @property
    def names(self):
        return list(self.prior)


def random_fault(rng, ident="f", causes=4, checks=3):
    """Odds and tables drawn in full; the job is given them in the short forms that the format allows."""
    odds = {f"c{i}": rng.randint(1, 9) for i in range(causes)} if ident == "f" else {"c0": 3, "c1": 1, "c2": 5}
    other = 0.1 if ident == "f" else 0.05
    prior = {c: (1 - other) * n / sum(odds.values()) for c, n in odds.items()} | {"something-else": other}
    forms = [written_out, one_result, with_default, left_to_be_split]
    rows = [forms[k % len(forms)](rng, f"k{k}", list(prior)) for k in range(checks)]
    repairs = tuple(Repair(id=f"m{i}", cures={c: rng.random() for c in prior}) for i in range(2))
    fault = Fault(id=ident, severity="minor", causes=odds, something_else=other, repair=repairs,
                  check=tuple(Check(id=name, results=results) for name, results, _ in rows))  # fmt: skip
    return Meant(fault, prior, {name: meant for name, _, meant in rows})


def drawn(rng, names, results=3):
    """A table whose columns sum to 1."""
    columns = {c: [rng.random() + 0.01 for _ in range(results)] for c in names}
    return {f"r{r}": {c: columns[c][r] / sum(columns[c]) for c in names} for r in range(results)}


def written_out(rng, name, names):
    table = drawn(rng, names)
    return name, table, table


def one_result(rng, name, names):
    """One result written, with one cause left out: that has a half, and the other result is the complement."""
    row = {c: rng.random() for c in names}
    meant = row | {names[0]: 0.5}
    del row[names[0]]
    return name, {"r0": row}, {"r0": meant, "not-r0": {c: 1 - p for c, p in meant.items()}}


def with_default(rng, name, names):
    """Two causes alike, served by the default of every row."""
    table = drawn(rng, names)
    for row in table.values():
        row[names[1]] = row[names[2]]
    short = {r: {c: p for c, p in row.items() if c not in names[1:3]} | {"default": row[names[1]]}
             for r, row in table.items()}  # fmt: skip
    return name, short, table


def left_to_be_split(rng, name, names):
    """Under the last cause only the first row is stated: the other two share what it leaves."""
    table = drawn(rng, names)
    last = names[-1]
    table["r1"][last] = table["r2"][last] = (1 - table["r0"][last]) / 2
    short = {r: {c: p for c, p in row.items() if c != last or r == "r0"} for r, row in table.items()}
    return name, short, table


def node(network, name, labels):
    return network.add(gum.LabelizedVariable(name, name, list(labels)))


def add_checks(network, meant, cause):
    """Each check hangs on the cause alone."""
    for check, table in meant.tables.items():
        name = f"{meant.fault.id}-{check}"
        node(network, name, table)
        network.addArc(cause, name)
        for i, c in enumerate(meant.names):
            network.cpt(name)[{cause: i}] = [table[r][c] for r in table]


@pytest.mark.parametrize("seed", range(8))
def test_posteriors_after_findings_and_failed_attempts(seed):
    rng = random.Random(seed)
    meant = random_fault(rng, checks=4)
    fault, names = meant.fault, meant.names
    network = gum.BayesNet()
    node(network, "cause", names)
    network.cpt("cause").fillWith(list(meant.prior.values()))
    add_checks(network, meant, "cause")
    goods = [rng.random(), rng.random()]
    node(network, "suits", ["no", "yes"])
    network.addArc("cause", "suits")
    for i, c in enumerate(names):
        cure = fault.repairs[0].cures[c]
        network.cpt("suits")[{"cause": i}] = [1 - cure, cure]
    for n, good in enumerate(goods):
        node(network, f"sound{n}", ["no", "yes"])
        network.cpt(f"sound{n}").fillWith([1 - good, good])
        node(network, f"cured{n}", ["no", "yes"])
        network.addArc("suits", f"cured{n}")
        network.addArc(f"sound{n}", f"cured{n}")
        network.cpt(f"cured{n}").fillWith(0)
        for suits in (0, 1):
            for sound in (0, 1):
                both = suits * sound
                network.cpt(f"cured{n}")[{"suits": suits, f"sound{n}": sound}] = [1 - both, both]
    results = {check: rng.choice(list(table)) for check, table in meant.tables.items()}
    inference = gum.LazyPropagation(network)
    inference.setEvidence({**{f"f-{k}": r for k, r in results.items()}, "cured0": "no", "cured1": "no"})
    tried = [FailedAttempt("m0", (Piece(f"q:{n}", good),)) for n, good in enumerate(goods)]
    found = posterior(fault, [*tried, *(Finding(*item) for item in results.items())]).chances
    assert list(found) == names
    assert list(found.values()) == pytest.approx(list(inference.posterior("cause").toarray()), abs=1e-9)


@pytest.mark.parametrize(("seed", "strength"), [(1, 0.0), (2, 0.25), (3, 0.5), (4, 0.81), (5, 1.0)])
def test_twins_as_a_network_with_a_common_cause(seed, strength):
    rng = random.Random(seed)
    group = [random_fault(rng, ident) for ident in ("left", "right", "rear")]
    network, pi = gum.BayesNet(), group[0].prior
    names, share = list(pi), strength**0.5
    node(network, "common", names)
    network.cpt("common").fillWith(list(pi.values()))
    for meant in group:
        name = meant.fault.id
        node(network, name, names)
        network.addArc("common", name)
        for z, common in enumerate(names):
            network.cpt(name)[{"common": z}] = [share * (c == common) + (1 - share) * pi[c] for c in names]
        add_checks(network, meant, name)
    seen = {
        meant.fault.id: [Finding(k, rng.choice(list(table))) for k, table in list(meant.tables.items())[: n + 1]]
        for n, meant in enumerate(group)
    }
    inference = gum.LazyPropagation(network)
    inference.setEvidence({f"{f}-{e.check}": e.result for f, entries in seen.items() for e in entries})
    found = group_posteriors([meant.fault for meant in group], seen, strength)
    for name, standing in found.items():
        exact = list(inference.posterior(name).toarray())
        assert list(standing.chances.values()) == pytest.approx(exact, abs=1e-9)


@pytest.mark.parametrize("seed", range(8))
def test_check_then_one_repair_as_an_influence_diagram(seed):
    """Whether to check, then which one repair, if any: the repairs share a quote, so that only one can be tried."""
    rng = random.Random(seed)
    meant = random_fault(rng, checks=1)
    fault = meant.fault
    gain, cost = 1000, rng.choice([0, 5, 40, 200])
    prices = [rng.randint(50, 600) for _ in fault.repairs]
    quote = Quote(id="q:1", part="p", supplier=None, condition="new", price_minor=0, good_chance=1.0)
    options = [
        Option(fault="f", repair=r.id, by_workshop=False, lines=(Line(quote=quote, units=1, wanted=1),),
               direct_minor=price, minutes=0, access=(), chance=0, days=0)
        for r, price in zip(fault.repairs, prices, strict=True)
    ]  # fmt: skip
    check = fault.checks[0].model_copy(update={"cost_minor": cost})
    case = Case(fault, meant.prior, options, (check,), OwnLanded({}))
    point = frontier(case, profit(gain, 0)).at(10**6)
    expected = _influence_diagram(meant, gain, cost, prices)
    assert gain * point.chance - point.net_minor == pytest.approx(expected, abs=1e-6)


def _influence_diagram(meant, gain, cost, prices):
    """The greatest expected utility, solved by pyAgrum."""
    diagram, names, fault = gum.InfluenceDiagram(), meant.names, meant.fault
    (table,) = meant.tables.values()
    diagram.addChanceNode(gum.LabelizedVariable("cause", "", names))
    diagram.addDecisionNode(gum.LabelizedVariable("look", "", ["no", "yes"]))
    diagram.addChanceNode(gum.LabelizedVariable("shown", "", ["nothing", *table]))
    diagram.addDecisionNode(gum.LabelizedVariable("repair", "", ["none", *(r.id for r in fault.repairs)]))
    diagram.addUtilityNode(gum.LabelizedVariable("worth", "", 1))
    diagram.addUtilityNode(gum.LabelizedVariable("paid", "", 1))
    arcs = [("cause", "shown"), ("look", "shown"), ("look", "repair"), ("shown", "repair"), ("look", "paid")]
    for tail, head in [*arcs, ("cause", "worth"), ("repair", "worth")]:
        diagram.addArc(tail, head)
    diagram.cpt("cause").fillWith(list(meant.prior.values()))
    for i, cause in enumerate(names):
        diagram.cpt("shown")[{"cause": i, "look": 0}] = [1.0] + [0.0] * len(table)
        diagram.cpt("shown")[{"cause": i, "look": 1}] = [0.0] + [table[r][cause] for r in table]
        diagram.utility("worth")[{"cause": i, "repair": 0}] = 0
        for n, (repair, price) in enumerate(zip(fault.repairs, prices, strict=True), start=1):
            diagram.utility("worth")[{"cause": i, "repair": n}] = gain * repair.cures[cause] - price
    diagram.utility("paid")[{"look": 0}] = 0
    diagram.utility("paid")[{"look": 1}] = -cost
    inference = gum.ShaferShenoyLIMIDInference(diagram)
    inference.makeInference()
    return inference.MEU()["mean"]
