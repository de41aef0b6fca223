"""The plan in two screens: its length, its figures, its signs and its colours; and one fault in full."""

from __future__ import annotations

import io
import json
import re
from contextvars import ContextVar
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from optimiser import calls, service
from optimiser.errors import CallError, UnknownNameError
from optimiser.model.plan import Plan
from optimiser.show import as_json, layout, money_bar, one_fault, short_plan, steps, wording
from tests import tiny_job
from tests.effort import examples
from tests.planned import plan_of
from tests.tiny_job import BASE, HORN, LAMP, NEW, ROUTED, VARIANTS, but, planned, routed
from tests.unit.conftest import Run
from tests.unit.test_examples import JOBS

MOST_LINES = 62
ANSI = re.compile(r"\x1b\[[0-9;]*m")


def shown(plan: Plan, columns: int, monkeypatch: pytest.MonkeyPatch, encoding: str = "utf-8") -> list[str]:
    monkeypatch.setenv("COLUMNS", str(columns))
    bare = io.BytesIO()
    stream = io.TextIOWrapper(bare, encoding=encoding)
    monkeypatch.setattr(calls, "_JOB", ContextVar("job", default="examples/job"))
    short_plan.show(layout.console(stream), plan)
    stream.flush()
    return bare.getvalue().decode(encoding).splitlines()


@pytest.mark.parametrize("folder", JOBS, ids=lambda path: path.name)
def test_every_example_fits_two_screens_with_every_step_fault_and_sum(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = plan_of(folder.name)
    out = shown(plan, 80, monkeypatch)
    assert len(out) <= MOST_LINES
    assert max(map(len, out)) <= 80
    document = json.loads(as_json.text(as_json.plan(plan)))
    rows = [line for line in out if re.match(r" *(\d+|-)  \S", line)]
    assert len(rows) == len(document["faults"])
    for fault, row in zip(document["faults"], rows, strict=True):
        number, title = fault["step"] or "-", plan.choice(fault["id"]).fault.title or fault["id"]
        assert row.split()[0] == str(number)
        assert row.split(maxsplit=1)[1].startswith(title[:20])
        assert (row.endswith(fault["landed"])) is (fault["route"] is not None or fault["repair"] is not None)
    assert {str(look["step"]) for look in document["do_first"]} <= {row.split()[0] for row in rows}
    orders = {order["supplier"]: order["total"] for order in document["orders"]}
    for supplier, total in orders.items():
        (line,) = [line for line in out if line.startswith(f" {wording.supplier(plan.job, supplier)}: step")]
        assert line.endswith(f" {total}")
    figures = dict(re.findall(r"(?:^| )\S ([a-z][a-z ]+) (-?[\d.]+)", "\n".join(out)))
    names = {"orders": "orders", "direct prices and hire": "direct", "deposits": "deposits",
             "kept for later steps": "fallbacks", "unspent": "unspent"}  # fmt: skip
    for name, key in names.items():
        assert figures.get(name, "0.00") == document["money"][key]
    assert any(line.split()[-1] == document["net_cost"] for line in out if "Net cost in all" in line)
    assert sum(minor for _, minor in money_bar.segments(plan.purse)) == plan.purse.remaining_minor


@pytest.mark.parametrize("columns", [60, 80, 120])
@pytest.mark.parametrize("variant", [*VARIANTS, *(f"routed {name}" for name in ROUTED)])
def test_lines_fit_and_costs_are_whole(columns: int, variant: str, monkeypatch: pytest.MonkeyPatch) -> None:
    kind, _, name = variant.rpartition(" ")
    plan = routed(name) if kind else planned(name)
    out = shown(plan, columns, monkeypatch)
    assert max(map(len, out)) <= columns
    said = "\n".join(out)
    for choice in plan.choices:
        if choice.route is not None:
            assert plan.job.currency.text(choice.landed_minor) in said
    drawn = [line for line in out if set(line.strip()) and set(line.strip()) <= set(layout.DRAWN.segments)]
    assert len(drawn) == (plan.purse.remaining_minor > 0)


def test_in_ascii_the_words_and_figures_are_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only the drawn signs differ: those of the bar, and the one behind text that is cut."""
    plan = plan_of("eight-evenings")
    drawn = {ord(sign): plain for sign, plain in zip(layout.DRAWN.segments, layout.IN_ASCII.segments, strict=True)}
    drawn[ord(layout.DRAWN.cut)] = layout.IN_ASCII.cut
    out = shown(plan, 80, monkeypatch)
    assert "█" in "".join(out)
    assert shown(plan, 80, monkeypatch, "ascii") == [line.translate(drawn) for line in out]


def on_a_terminal(plan: Plan, monkeypatch: pytest.MonkeyPatch, **environment: str) -> str:
    for name in ("NO_COLOR", "TERM", "FORCE_COLOR", "COLORTERM"):
        monkeypatch.delenv(name, raising=False)
    for name, value in {"COLUMNS": "80", "TERM": "xterm-256color", **environment}.items():
        monkeypatch.setenv(name, value)

    class Terminal(io.StringIO):
        encoding = "utf-8"

        def isatty(self) -> bool:
            return True

    stream = Terminal()
    short_plan.show(layout.console(stream), plan)
    return stream.getvalue()


def test_colour_is_there_and_never_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is dangerous is in red and says so in words; without its colours the answer is the same."""
    plan = plan_of("shortest")
    coloured = on_a_terminal(plan, monkeypatch)
    assert re.search(r"\x1b\[1;31m! THE VEHICLE MUST NOT BE USED", coloured)
    plain = on_a_terminal(plan, monkeypatch, NO_COLOR="1")
    assert "\x1b" not in plain
    assert ANSI.sub("", coloured) == plain
    assert on_a_terminal(plan, monkeypatch, TERM="dumb").split() == plain.split()


def test_text_is_cut_only_where_it_does_not_fit() -> None:
    assert layout.shortened("Fit a lamp", 10, "…") == "Fit a lamp"
    assert layout.shortened("Fit a lamp", 9, "…") == "Fit a la…"
    assert layout.shortened("Fit a lamp", 5, "…") == "Fit…"
    assert layout.shortened("灯を直す灯を直す", 9, "…") == "灯を直す…"


@examples(400)
@given(st.text("ab ,;:灯é\N{COMBINING ACUTE ACCENT}"), st.integers(0, 20), st.sampled_from(["…", "..."]))
def test_text_is_cut_as_sign_by_sign_from_its_end(text: str, width: int, cut: str) -> None:
    kept = text
    while kept and cell_len(kept) + cell_len(cut) > width:
        kept = kept[:-1]
    wanted = text if cell_len(text) <= width else kept.rstrip(" ,;:") + cut
    assert layout.shortened(text, width, cut) == wanted


def test_a_text_of_a_million_signs_is_cut_in_no_time() -> None:
    assert layout.shortened("W" * 10**6, 9, "…") == "W" * 8 + "…"


# ---- one fault


def test_one_fault_by_title_id_fragment_or_step(run: Run, tmp_path: Path) -> None:
    folder = tiny_job.write(but(ROUTED["three_results"]), tmp_path / "job")
    whole = json.loads(run("plan", folder, "--json")[1])["faults"][0]
    for words in (("pump",), ("Washer pump silent",), ("washer", "pump"), ("silent",), ("1",), ("4",)):
        code, out, err = run("plan", folder, *words, "--json")
        assert (code, err) == (0, "")
        answer = json.loads(out)["fault"]
        assert {key: answer[key] for key in whole} == whole, words
    out = run("plan", folder, "pump")[1]
    assert "1. Listen while somebody works the stalk (5 min;" in out
    assert "What may be behind it" in out
    assert "Check first: that leaves the chance" in " ".join(out.split())


def test_a_step_of_an_order_is_the_fault_that_it_is_for(run: Run, tmp_path: Path) -> None:
    folder = tiny_job.write(BASE, tmp_path / "job")
    assert json.loads(run("plan", folder, "3", "--json")[1])["fault"]["id"] == "horn"
    both = tiny_job.write(
        but(BASE, faults=(HORN, but(HORN, id="second")), quotes=(but(NEW, pack=4),)), tmp_path / "two"
    )
    number = json.loads(run("orders", both, "--json")[1])["orders"][0]["lines"][0]["step"]
    code, _, err = run("plan", both, number)
    assert code == 2
    assert f"Step {number} is for 2 faults." in err
    assert "horn, second" in err


@pytest.mark.parametrize(("word", "said"), [("99", "No fault has a step 99."), ("nothing", "no fault of this job")])
def test_what_no_fault_is_called_is_refused(word: str, said: str, run: Run, tmp_path: Path) -> None:
    folder = tiny_job.write(BASE, tmp_path / "job")
    code, out, err = run("plan", folder, word)
    assert (code, out) == (2, "")
    assert said in err


@pytest.mark.parametrize(("word", "kind"), [("nothing", UnknownNameError), ("horn", CallError)])
def test_a_word_that_means_several_faults_is_another_failure_than_one_that_means_none(
    word: str, kind: type[CallError]
) -> None:
    twins = tuple(HORN.model_copy(update={"id": f"horn-{side}", "title": ""}) for side in ("left", "right"))
    with pytest.raises(CallError) as refused:
        service.find_fault(but(BASE, faults=twins), word)
    assert type(refused.value) is kind


def test_inside_a_job_the_first_word_is_the_fault(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tiny_job.write(BASE, tmp_path / "job"))
    assert json.loads(run("plan", "lamp", "--json")[1])["fault"]["id"] == "lamp"
    tiny_job.write(but(BASE, faults=(HORN,)), Path("lamp"))
    assert json.loads(run("plan", "lamp", "--json")[1])["faults"][0]["id"] == "horn", "a folder with a job comes first"


def test_a_cured_fault_says_that_it_is(run: Run, tmp_path: Path) -> None:
    folder = tiny_job.write(BASE, tmp_path / "job")
    run("plan", folder)
    assert run("fitted", folder, "lamp", "clean", "cured")[0] == 0
    for word in ("lamp", "2"):
        assert "lamp is cured." in run("plan", folder, word)[2]


def test_one_fault_has_its_own_cautions_and_no_others() -> None:
    plan = service.plan(but(BASE, faults=(but(HORN, systems=("brakes",)), but(LAMP, systems=("wiring",)))))
    titles = {
        fault: set(one_fault.document(service.fault_in_full(plan, fault))["cautions"]) for fault in ("horn", "lamp")
    }
    assert "Brakes" in titles["horn"] - titles["lamp"]
    assert "Wiring and fuses" in titles["lamp"] - titles["horn"]
    assert titles["horn"] | titles["lamp"] == set(plan.cautions)


def test_every_step_number_of_a_plan_leads_to_a_fault() -> None:
    plan = plan_of("look-first")
    numbered = steps.numbers(plan)
    for number in {*numbered.lines.values(), *(n for tree in numbered.trees.values() for n in tree)}:
        assert steps.serves(plan, number)


def test_full_is_the_whole_answer_and_goes_through_no_pager_in_a_pipe(run: Run, tmp_path: Path) -> None:
    folder = tiny_job.write(routed("three_results").job, tmp_path / "job")
    out = run("plan", folder, "--full")[1]
    assert "What to do, the gravest first" in out
    assert "less orders, goods and postage" in out


def test_on_a_terminal_a_long_answer_is_paged(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pages: list[str] = []
    monkeypatch.setattr("click.echo_via_pager", pages.append)
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    monkeypatch.setenv("TERM", "dumb")
    folder = tiny_job.write(routed("three_results").job, tmp_path / "job")
    for lines, paged in (("10", True), ("500", False)):
        monkeypatch.setenv("LINES", lines)
        out = run("plan", folder, "--full")[1]
        assert ("What to do, the gravest first" in "".join(pages)) is paged
        assert ("What to do, the gravest first" in out) is not paged
        pages.clear()
    monkeypatch.setenv("LINES", "10")
    assert run("plan", folder)[1]
    assert not pages, "the short plan is not paged"
