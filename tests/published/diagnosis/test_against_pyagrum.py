"""Posteriors and decisions against pyAgrum, an independent implementation of Bayesian networks (LGPL, PyPI)."""

import random

import pytest

from optimiser.diagnosis.belief import likelihoods, prior
from optimiser.diagnosis.cash import OwnLanded
from optimiser.diagnosis.routes import Case, frontier, profit
from optimiser.diagnosis.twins import group_posteriors, posterior
from optimiser.model.evidence import FailedAttempt, Finding, Piece
from optimiser.model.job import Check, Fault, Repair
from optimiser.model.option import Line, Option
from optimiser.model.quotes import Quote

gum = pytest.importorskip("pyagrum")


def random_fault(rng, ident="f", causes=4, checks=3, results=3):
    odds = {f"c{i}": rng.randint(1, 9) for i in range(causes)} if ident == "f" else {"c0": 3, "c1": 1, "c2": 5}
    names = [*odds, "something-else"]
    rows = []
    for k in range(checks):
        columns = {c: [rng.random() + 0.01 for _ in range(results)] for c in names}
        table = {f"r{r}": {c: columns[c][r] / sum(columns[c]) for c in names} for r in range(results)}
        rows.append(Check(id=f"k{k}", results=table))
    repairs = tuple(Repair(id=f"m{i}", cures={c: rng.random() for c in names}) for i in range(2))
    return Fault(id=ident, severity="minor", causes=odds, check=tuple(rows), repair=repairs)


def node(network, name, labels):
    return network.add(gum.LabelizedVariable(name, name, list(labels)))


def add_checks(network, fault, cause):
    """Each check hangs on the cause alone."""
    names = list(prior(fault))
    for check in fault.checks:
        table = likelihoods(check, names)
        name = f"{fault.id}-{check.id}"
        node(network, name, table)
        network.addArc(cause, name)
        for i, c in enumerate(names):
            network.cpt(name)[{cause: i}] = [table[r][c] for r in table]


@pytest.mark.parametrize("seed", range(8))
def test_posteriors_after_findings_and_failed_attempts(seed):
    rng = random.Random(seed)
    fault = random_fault(rng)
    network, names = gum.BayesNet(), list(prior(fault))
    node(network, "cause", names)
    network.cpt("cause").fillWith(list(prior(fault).values()))
    add_checks(network, fault, "cause")
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
    results = {check.id: rng.choice(["r0", "r1", "r2"]) for check in fault.checks}
    inference = gum.LazyPropagation(network)
    inference.setEvidence({**{f"f-{k}": r for k, r in results.items()}, "cured0": "no", "cured1": "no"})
    tried = [FailedAttempt("m0", (Piece(f"q:{n}", good),)) for n, good in enumerate(goods)]
    found = posterior(fault, [*tried, *(Finding(*item) for item in results.items())]).chances
    assert list(found.values()) == pytest.approx(list(inference.posterior("cause").toarray()), abs=1e-9)


@pytest.mark.parametrize(("seed", "strength"), [(1, 0.0), (2, 0.25), (3, 0.5), (4, 0.81), (5, 1.0)])
def test_twins_as_a_network_with_a_common_cause(seed, strength):
    rng = random.Random(seed)
    group = [random_fault(rng, ident) for ident in ("left", "right", "rear")]
    network, pi = gum.BayesNet(), prior(group[0])
    names, share = list(pi), strength**0.5
    node(network, "common", names)
    network.cpt("common").fillWith(list(pi.values()))
    for fault in group:
        node(network, fault.id, names)
        network.addArc("common", fault.id)
        for z, common in enumerate(names):
            network.cpt(fault.id)[{"common": z}] = [share * (c == common) + (1 - share) * pi[c] for c in names]
        add_checks(network, fault, fault.id)
    seen = {
        f.id: [Finding(k.id, rng.choice(["r0", "r1", "r2"])) for k in f.checks[: n + 1]] for n, f in enumerate(group)
    }
    inference = gum.LazyPropagation(network)
    inference.setEvidence({f"{f}-{e.check}": e.result for f, entries in seen.items() for e in entries})
    found = group_posteriors(group, seen, strength)
    for fault in group:
        exact = list(inference.posterior(fault.id).toarray())
        assert list(found[fault.id].chances.values()) == pytest.approx(exact, abs=1e-9)


@pytest.mark.parametrize("seed", range(8))
def test_check_then_one_repair_as_an_influence_diagram(seed):
    """Whether to check, then which one repair, if any: the repairs share a quote, so that only one can be tried."""
    rng = random.Random(seed)
    fault = random_fault(rng, checks=1)
    gain, cost = 1000, rng.choice([0, 5, 40, 200])
    prices = [rng.randint(50, 600) for _ in fault.repairs]
    quote = Quote(id="q:1", part="p", supplier=None, condition="new", price_minor=0, good_chance=1.0)
    options = [
        Option(fault="f", repair=r.id, by_workshop=False, lines=(Line(quote=quote, units=1, wanted=1),),
               direct_minor=price, minutes=0, access=(), chance=0, days=0)
        for r, price in zip(fault.repairs, prices, strict=True)
    ]  # fmt: skip
    check = fault.checks[0].model_copy(update={"cost_minor": cost})
    case = Case(fault, prior(fault), options, (check,), OwnLanded({}))
    point = frontier(case, profit(gain, 0)).at(10**6)
    expected = _influence_diagram(fault, gain, cost, prices)
    assert gain * point.chance - point.net_minor == pytest.approx(expected, abs=1e-6)


def _influence_diagram(fault, gain, cost, prices):
    """The greatest expected utility, solved by pyAgrum."""
    diagram, names = gum.InfluenceDiagram(), list(prior(fault))
    table = likelihoods(fault.checks[0], names)
    diagram.addChanceNode(gum.LabelizedVariable("cause", "", names))
    diagram.addDecisionNode(gum.LabelizedVariable("look", "", ["no", "yes"]))
    diagram.addChanceNode(gum.LabelizedVariable("shown", "", ["nothing", *table]))
    diagram.addDecisionNode(gum.LabelizedVariable("repair", "", ["none", *(r.id for r in fault.repairs)]))
    diagram.addUtilityNode(gum.LabelizedVariable("worth", "", 1))
    diagram.addUtilityNode(gum.LabelizedVariable("paid", "", 1))
    arcs = [("cause", "shown"), ("look", "shown"), ("look", "repair"), ("shown", "repair"), ("look", "paid")]
    for tail, head in [*arcs, ("cause", "worth"), ("repair", "worth")]:
        diagram.addArc(tail, head)
    diagram.cpt("cause").fillWith(list(prior(fault).values()))
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
