"""`stretch` from outside: what it says, draws and writes, and where it has to say that it does not know."""

from __future__ import annotations

import csv
import json
import shutil
from pathlib import Path

import pytest

from optimiser import service
from optimiser.model.job import Check, Fault, Job, Pot, Repair, Time
from optimiser.model.plan import Plan
from optimiser.model.stretch import Rung, Stretch
from optimiser.money import Currency
from optimiser.planning.stretch import usual
from optimiser.show import stretch_words
from tests.planned import job_of, plan_of
from tests.tiny_job import BASE, LAMP, but, write
from tests.unit.conftest import Run

SHORTEST = Path("examples/shortest").resolve()


def known(of: Job, *wanted: int) -> Stretch:
    return service.stretch(of, wanted, looks=None)


def fault(name: str, price_minor: int, chance: float, minutes: int = 0, **more: object) -> object:
    return but(LAMP, id=name, title=name.title(), repairs=(Repair(id="way", chance=chance, price_minor=price_minor, minutes=minutes),), **more)  # noqa: E501 # fmt: skip


def of(*faults: object, **more: object) -> Job:
    return but(BASE, **({"faults": faults, "quotes": (), "pot": Pot(cap_minor=1_000)} | more))


@pytest.fixture
def shortest(tmp_path: Path) -> Path:
    return shutil.copytree(SHORTEST, tmp_path / "job")


def test_all_points_as_json_and_as_a_table(shortest: Path, tmp_path: Path, run: Run) -> None:
    before = {path: path.read_bytes() for path in shortest.rglob("*")}
    code, out, err = run("stretch", shortest, "--all", "--json", "--csv", tmp_path / "points.csv", "--more", "12.5")
    assert (code, err) == (0, "")
    told = json.loads(out)
    with (tmp_path / "points.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert told["complete"]
    assert [point["for_parts"] for point in told["points"]] == [row["for_parts"] for row in rows]
    assert [row["until"] for row in rows[:-1]] == [f"{float(row['for_parts']) - 0.01:.2f}" for row in rows[1:]]
    assert rows[-1]["until"] == ""
    assert told["more"] == [
        {"money": "12.50", "weighted": pytest.approx(5.34), "fixes": pytest.approx(3.42), "proven": True}
    ]
    assert {path: path.read_bytes() for path in shortest.rglob("*")} == before


@pytest.mark.parametrize("name", ["shortest", "try-it", "look-first", "look-for-nothing"])
def test_at_the_present_pot_it_says_what_the_plan_says(name: str) -> None:
    """Or more, by no more than what the checks gain that a plan leaves out as too little."""
    job, plan = job_of(name), plan_of(name)
    rung = service.stretch(job).at(job.pot.remaining_minor)
    least = job.settings.check_must_gain * sum(len(fault.checks) for fault in job.faults)
    assert -1e-6 <= rung.plan.expected_fixes - plan.expected_fixes <= least + 0.02


@pytest.mark.parametrize("name", ["shortest", "try-it", "look-first", "look-for-nothing"])
def test_no_other_figure_stands_at_the_present_pot_than_in_the_plan(name: str, tmp_path: Path, run: Run) -> None:
    job = shutil.copytree(SHORTEST.parent / name, tmp_path / "job", ignore=shutil.ignore_patterns("record.sqlite*"))
    planned, told = (json.loads(run(verb, job, "--json")[1]) for verb in ("plan", "stretch"))
    figures = {name: planned[name] for name in ("expected_fixes", "expected_count")}
    left_out = any(check["left_out"] for fault in planned["faults"] for check in fault["checks"])
    assert told["now"] == {**figures, "leaves_out_checks": left_out}
    here = [point for point in told["points"] if float(point["for_parts"]) <= float(told["for_parts_now"])][-1]
    assert left_out or figures.items() <= here.items()


def looked_at(name: str, severity: str, prices_minor: tuple[int, int]) -> Fault:
    """Two causes as likely as each other, a check that tells them apart, and a way for each."""
    ways = {cause: Repair(id=cause, cures={cause: 0.9}, price_minor=price) for cause, price in zip("ab", prices_minor, strict=True)}  # noqa: E501 # fmt: skip
    look = Check(id="look", minutes=10, results={"this": {"a": 0.95, "b": 0.05}, "that": {"a": 0.05, "b": 0.95}})
    return but(LAMP, id=name, title=name.title(), severity=severity, repairs=tuple(ways.values()), causes=dict.fromkeys("ab", 5.0), checks=(look,))  # noqa: E501 # fmt: skip


def test_where_the_plan_leaves_out_checks_like_is_compared_with_like() -> None:
    """The plan comes to less than its neighbours, which have the checks; that is not for danger, and there is none."""
    job = of(
        looked_at("pulls", "major", (10_000, 9_000)), looked_at("rattle", "minor", (4_000, 4_500)),
        settings=but(BASE.settings, fallbacks=True, check_must_gain=0.9), pot=Pot(cap_minor=13_900),
    )  # fmt: skip
    plan = service.plan(job)
    found = service.stretch(job, (10_000,), looks=None, plan=plan)
    rungs = [rung.plan.expected_fixes for rung in found.rungs]
    assert plan.leaves_out_checks
    assert plan.expected_fixes + 0.3 < found.at(13_900).plan.expected_fixes
    assert rungs == sorted(rungs)
    fewer, whole = (stretch_words.fixes(one) for one in (plan, found.at(13_900).plan))
    assert stretch_words.headline(found) == (
        f"With the 139.00 GBP that are left for parts now: {fewer}. The plan leaves out checks that gain less than 0.9"
        f" of a fix; with them, as at every point here, {whole}."
    )
    above = found.at(13_900).plan.expected_fixes + 0.004
    more = found.model_copy(update={"fewer_checks": plan.model_copy(update={"expected_fixes": above})})
    assert stretch_words.headline(more).endswith(f"{whole} (no better mix, as chances count in whole steps).")
    said = " ".join(stretch_words.remarks(found))
    assert "dangerous" not in said
    gained = found.at(23_900).plan.expected_fixes - found.at(13_900).plan.expected_fixes
    assert f"100.00 more: {gained:.2f} more fixes; " in said


def test_fewer_fixes_are_for_danger_only_where_more_is_done_about_it() -> None:
    low, high = (Rung(least_minor=at, until_minor=None, plan=plan_of("shortest")) for at in (0, 10))
    poorer = but(high, plan=but(high.plan, expected_fixes=low.plan.expected_fixes - 0.1))
    found = Stretch(job=low.plan.job, rungs=(low, poorer), safe_minor=0, unsure=(), wanted_minor=(1_000_000,))
    assert found.falls == ()
    assert "comes first" not in " ".join(stretch_words.remarks(found))
    levels = {**high.plan.selection.levels, "dangerous": high.plan.selection.levels["dangerous"] + 1}
    safer = but(poorer, plan=but(poorer.plan, selection=but(poorer.plan.selection, levels=levels)))
    assert but(found, rungs=(low, safer)).falls == (safer,)


@pytest.mark.parametrize("columns", [30, 40, 60, 71, 80, 100])
def test_no_line_is_wider_than_the_screen_and_the_mark_stays_whole(
    columns: int, shortest: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    text = (shortest / "job.toml").read_text(encoding="utf-8")
    (shortest / "job.toml").write_text(text.replace('"260.00"', '"900.00"'), encoding="utf-8")
    out = run("stretch", shortest)[1].splitlines()
    assert max(map(len, out)) <= columns
    assert any(line.strip() == "now ^" for line in out), "at the right end"
    does = next(line for line in out if "(now)" in line)
    assert len(does.strip().split("(now)")[1]) >= 15, "what it does more can be read"


@pytest.mark.parametrize(("columns", "lines"), [(28, 2), (33, 2), (40, 1)])
def test_figures_that_do_not_fit_on_a_line_stand_below_each_other(
    columns: int, lines: int, shortest: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    out = run("stretch", shortest)[1].splitlines()
    head = next(n for n, line in enumerate(out) if "For parts" in line)
    names, figures = out[head : head + lines], out[head + lines : head + 2 * lines]
    assert " ".join(" ".join(names).split()) == "For parts Pot Weighted Counted"
    assert " ".join(figures).split() == ["0.00", "160.00", "0.00", "0.00"]
    assert len({len(line.rstrip()) for line in (*names, *figures)}) == 1, "figures stand below their names"


def test_fewer_faults_for_more_money_are_said_to_weigh_more(shortest: Path, run: Run) -> None:
    out = " ".join(run("stretch", shortest, "--more", "1")[1].split())
    assert (
        "1.00 more: 0.05 more fixes, weighted (0.65 fewer counted alike: what is graver comes in for it); Deck" in out
    )


def test_fewer_fixes_for_more_money_are_said_to_be_for_what_is_dangerous(shortest: Path, run: Run) -> None:
    text = (shortest / "job.toml").read_text(encoding="utf-8")
    (shortest / "job.toml").write_text(text.replace('"260.00"', '"200.00"'), encoding="utf-8")
    out = " ".join(run("stretch", shortest, "--more", "6")[1].split())
    assert "6.00 more: 1.86 fewer fixes, for what is dangerous comes first, weighted (1.38 fewer counted alike);" in out


def test_what_it_says_in_words(shortest: Path, run: Run) -> None:
    out = " ".join(run("stretch", shortest)[1].split())
    assert (
        "100.00 GBP that are left for parts now: 5.29 fixes expected, weighted by importance (4.07 counted alike)"
        in out
    )
    assert "From 46.00 GBP for parts (a pot of 206.00) on every dangerous fault is at least 80% sure" in out
    assert (
        "20.00 more: 0.50 more fixes, weighted (0.25 more counted alike); Deck drive slips under load 70% to 95%."
        in out
    )
    assert "At 46.00 less is mended, weighted, than with less money" in out
    assert "(now) takes up Seat torn to the foam (90%)" in out
    every = " ".join(run("stretch", shortest, "--all")[1].split())
    assert "That is every point at which more money does more" in every


def test_the_line_is_drawn_in_plain_letters_where_nothing_else_is_to_be_had(
    shortest: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    from optimiser.show import layout  # noqa: PLC0415

    monkeypatch.setattr(layout, "signs", lambda _: layout.IN_ASCII)
    drawn = [line for line in run("stretch", shortest)[1].splitlines() if "#" in line]
    assert len(drawn) == 8
    widths = [len(line.strip().split()[-1]) for line in drawn]
    assert widths == sorted(widths)


def test_a_fix_that_doubles_in_price_is_dear() -> None:
    dear = known(of(fault("a", 100, 0.5), fault("b", 200, 0.5), fault("c", 900, 0.5), pot=Pot(cap_minor=150))).dear
    assert dear is not None
    assert (dear.from_minor, round(dear.here_minor), round(dear.after_minor)) == (300, 400, 1800)
    assert known(of(fault("a", 100, 0.5), fault("b", 150, 0.5), pot=Pot(cap_minor=150))).dear is None


def test_more_that_brings_nothing_is_said() -> None:
    said = list(stretch_words.remarks(known(of(fault("a", 100, 0.5)), 30)))
    assert "0.30 more: nothing more." in said


def test_where_money_is_not_what_is_short() -> None:
    """The cheap mix keeps to the hours, the best one for much money does not."""
    look = fault("look", 100, 0.5, minutes=20)
    long = fault("long", 5_000, 0.9, minutes=200)
    settings = but(BASE.settings, fallbacks=True)
    job = of(look, long, time=Time(hours=1), pot=Pot(cap_minor=150), settings=settings)
    found = service.stretch(job, (50,))
    assert found.hours_bind_minor is not None
    assert not found.complete
    assert any("your hours bind, not the money" in said for said in stretch_words.remarks(found))
    rich = service.stretch(but(job, pot=Pot(cap_minor=9_000)), (50,))
    assert rich.at(9_000).plan.choice("long").route is None


def test_a_dangerous_fault_that_nothing_makes_sure_is_named() -> None:
    found = known(of(fault("hub", 100, 0.5, severity="dangerous", systems=("wiring",)), fault("b", 50, 0.9)))
    assert found.unsure == ("hub",)
    assert "! No money makes these sure, with what is offered: Hub." in list(stretch_words.remarks(found))
    assert found.safe_minor == 100
    none = but(LAMP, id="hub", severity="dangerous", systems=("wiring",), repairs=())
    hopeless = list(stretch_words.remarks(known(of(none, fault("b", 50, 0.9)))))
    assert hopeless[0].startswith("! No money makes these sure")
    assert not any(said.startswith("From 0.00") for said in hopeless)


@pytest.mark.parametrize("gone", [0, 5_000])
def test_nothing_to_do_and_nothing_left(gone: int, tmp_path: Path, run: Run) -> None:
    for n, faults in enumerate(((), (fault("a", 100, 0.5),))):
        folder = write(of(*faults, pot=Pot(cap_minor=1_000, spent_minor=gone)), tmp_path / f"job-{n}")
        code, out, err = run("stretch", folder)
        assert (code, err) == (0, "")
        assert f"With the {'0.00' if gone else '10.00'} GBP that are left" in out


def test_a_limit_of_no_time_is_said(shortest: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(shortest / "nothing-kept"))
    text = (shortest / "job.toml").read_text(encoding="utf-8")
    (shortest / "job.toml").write_text(f"{text}\n[solve]\nseconds = 0.000001\n", encoding="utf-8")
    code, out, err = run("stretch", shortest)
    assert (code, out) == (2, "")
    assert "seconds" in err
    assert "Traceback" not in err


@pytest.mark.parametrize("said", ["-3", "much", "1_0"])
def test_an_amount_that_is_none_is_refused(said: str, shortest: Path, run: Run) -> None:
    code, out, err = run("stretch", shortest, "--more", said)
    assert (code, out) == (2, "")
    assert said in err


@pytest.mark.parametrize(("code", "amounts"), [("GBP", (2_000, 5_000, 10_000)), ("JPY", (2_000, 5_000, 10_000)), ("SEK", (20_000, 50_000, 100_000))])  # noqa: E501 # fmt: skip
def test_the_amounts_that_are_asked_unsaid(code: str, amounts: tuple[int, ...]) -> None:
    assert usual(Currency.of(code)) == amounts


def test_a_plan_that_is_not_proven_is_marked() -> None:
    plan: Plan = plan_of("shortest")
    outcome = plan.selection.outcome.model_copy(update={"proven": False})
    unproven = but(plan, selection=but(plan.selection, outcome=outcome))
    rung = Rung(least_minor=0, until_minor=None, plan=unproven)
    found = Stretch(job=plan.job, rungs=(rung,), safe_minor=None, unsure=(), wanted_minor=())
    assert any(said.startswith("Lines marked ~") for said in stretch_words.remarks(found))
