"""The command line from outside: answers, exit codes, JSON keys, widths, and nothing raw or broken for a person."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import shutil
import subprocess
import sys
import unicodedata
from collections import Counter
from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from optimiser import cli, service
from optimiser.errors import PlanRefusedError
from optimiser.model.plan import Plan
from optimiser.show import as_json, layout, terminal
from tests import tiny_job
from tests.tiny_job import ROUTED, VARIANTS

EXAMPLES = Path(cli.__file__).parents[2] / "examples"
MARIGOLD, SHORTEST = EXAMPLES / "marigold", EXAMPLES / "shortest"
RAW = "a\x1b[31mb\x9b31mc\u202ed\x07e\x7ff"
Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def job(tmp_path: Path) -> Callable[[str], Path]:
    """Write a variant of the tiny job."""
    return lambda variant: tiny_job.write(VARIANTS[variant], tmp_path / variant)


@pytest.fixture
def shortest(tmp_path: Path) -> Path:
    """A copy of the shortest example: what is planned there is kept there."""
    folder = tmp_path / "shortest"
    shutil.copytree(SHORTEST, folder, ignore=shutil.ignore_patterns("record.sqlite*"))
    return folder


def process(*words: object, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "optimiser", *map(str, words)],
        check=False,
        capture_output=True,
        encoding="utf-8",
        env={**os.environ, "COLUMNS": "80", **environment},
        timeout=60,
    )


def written(folder: Path, text: str, **sheets: str) -> Path:
    folder.mkdir(exist_ok=True)
    (folder / "job.toml").write_text(text, encoding="utf-8")
    for name, sheet in sheets.items():
        (folder / f"{name}.csv").write_text(sheet, encoding="utf-8")
    return folder


def one_line(text: str) -> str:
    """What is said, wherever the terminal breaks the lines."""
    return " ".join(text.split())


def fails_plainly(code: int, out: str, err: str, *said: str) -> None:
    assert code == 2
    assert out == ""
    assert "Traceback" not in err
    for words in said:
        assert words in err


# ---- answers


def test_all_four_verbs_answer_on_an_example(run: Run, beside_examples: Path) -> None:
    folder = beside_examples / "examples" / "eight-evenings"
    code, out, err = run("plan", folder)
    assert (code, err) == (0, "")
    assert "Proven" in out
    code, out, err = run("orders", folder)
    assert (code, err) == (0, "")
    assert "Order to" in out
    code, out, err = run("compare", folder, "brakes")
    assert (code, err) == (0, "")
    assert "=> " in out
    code, out, err = run("verify", MARIGOLD)
    assert (code, err) == (0, "")
    assert "No problems" in one_line(out)


def test_compare_answers_with_switch_points(run: Run, job: Any) -> None:
    code, out, err = run("compare", job("workshop"), "horn")
    assert (code, err) == (0, "")
    assert "It stays the choice up to a price of" in one_line(out)


def test_why_says_what_each_other_option_would_lose(run: Run, job: Any) -> None:
    code, out, _ = run("plan", job("workshop"), "--why")
    assert code == 0
    assert out.count("It stays the choice up to") == 2


def test_the_module_runs_too(job: Any) -> None:
    ran = process("plan", job("base"))
    assert (ran.returncode, ran.stderr) == (0, "")
    assert "With 20.00 GBP to spend: work on 2 of 2 faults" in ran.stdout


@pytest.mark.parametrize("words", [("--help",), ("-h",), ("plan", "--help"), ("--version",), ("verify", "-h")])
def test_help_and_version(run: Run, words: tuple[str, ...]) -> None:
    code, out, err = run(*words)
    assert (code, err) == (0, "")
    assert "Usage" in out or "optimiser" in out


# ---- which job


def test_the_job_is_the_current_folder_unless_named(run: Run, job: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    named = run("plan", job("base"), "--json")
    monkeypatch.chdir(job("base"))
    assert run("plan", "--json") == named
    assert run("compare", "horn")[0] == 0
    assert run("compare", job("set"), "horn")[0] == 0


def test_a_mistyped_folder(run: Run, job: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    fails_plainly(*run("plan", "no-such"), "no-such", "job.toml")
    fails_plainly(*run("compare", "no-such", "horn"), "no-such")
    fails_plainly(*run("plan"), "job.toml")
    (tmp_path / "hollow").mkdir()
    fails_plainly(*run("plan", "hollow"), "hollow", "job.toml")
    monkeypatch.chdir(job("base"))
    fails_plainly(*run("plan", "no-such"), "no-such", "job.toml")


def test_an_unknown_fault_has_a_did_you_mean(run: Run) -> None:
    fails_plainly(*run("compare", MARIGOLD, "front-braeks"), "front-braeks", "Did you mean", "front-brakes")


def test_compare_wants_one_name_at_the_most(run: Run, job: Any) -> None:
    fails_plainly(*run("compare", job("base"), "horn", "lamp"), "one fault", "optimiser compare")


def test_an_unknown_verb_or_option(run: Run, job: Any) -> None:
    fails_plainly(*run("plam", job("base")), "plam")
    fails_plainly(*run("plan", job("base"), "--jsn"), "--jsn")
    assert run()[0] == 2


# ---- JSON

PLAN_KEYS = {
    "format", "job", "money", "expected_fixes", "expected_count", "proven", "bound", "bound_unit", "bound_stage",
    "budget_rule",
    "safety_first", "do_first", "faults", "orders", "leftovers", "access", "minutes", "not_offered", "cautions",
}  # fmt: skip
PLAN_MORE = {"quotes_to_get", "rough_work", "expected_minutes", "minutes_not_said", "net_cost", "odds", "closed",
             "on_order", "deposits_due_back", "dangerous", "cheapest",
             "sale", "safety_costs", "unproven", "untested"}  # fmt: skip
MONEY_KEYS = ["cap", "committed", "hold_back", "remaining", "orders", "direct", "deposits", "deposits_due",
              "fallbacks", "unspent"]  # fmt: skip
FAULT_KEYS = {"id", "severity", "chance", "repair", "why", "parts", "direct_price", "minutes", "route"}
FAULT_MORE = {"step", "by", "landed", "access_share", "checks", "beyond"}
PART_KEYS = {"part", "units", "supplier", "condition", "quote", "ref", "landed", "source"}
PART_MORE = {"price", "ahead"}
DO_FIRST_KEYS, DO_FIRST_MORE = {"step", "fault", "check", "minutes", "worth"}, {"gains", "saves", "serves", "earns"}
NODE_KEYS, NODE_MORE = {"do", "step", "id", "parts", "cash", "minutes", "then"}, {"chances"}
ORDER_KEYS, ORDER_MORE = (
    {"supplier", "lines", "goods", "postage", "deposits", "total"},
    {"free_postage_from", "better_after"},
)
LINE_KEYS, LINE_MORE = {"part", "condition", "quote", "ref", "packs", "pack", "price", "deposit"}, {"step", "waits_for"}
OPTION_KEYS = {"repair", "by", "parts", "landed", "chance", "value_if_forced", "loses", "price_up_to",
               "chance_down_to"}  # fmt: skip
OPTION_MORE = {"alone", "chosen", "chance_in_all", "cost_per_fix", "days", "warranty_months", "pack_price_up_to"}


@pytest.fixture(scope="module")
def once_text(marigold_once: Path) -> str:
    """The full example with one attempt a fault, as a process tells it."""
    return process("plan", marigold_once, "--json", PYTHONHASHSEED="0").stdout


@pytest.fixture(scope="module")
def once(once_text: str) -> dict[str, Any]:
    return json.loads(once_text)


@pytest.fixture(scope="module")
def routed(marigold_plan: Plan) -> dict[str, Any]:
    """The full example with its routes."""
    return json.loads(as_json.text(as_json.plan(marigold_plan)))


FULL_EXAMPLE = pytest.mark.together("full example")


@pytest.fixture(params=[pytest.param("once", marks=FULL_EXAMPLE), pytest.param("routed", marks=FULL_EXAMPLE)])
def answer(request: pytest.FixtureRequest) -> dict[str, Any]:
    return request.getfixturevalue(request.param)


def nodes(tree: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """Every node of a route, each before what follows it."""
    yield tree
    for after in tree["then"].values():
        yield from nodes(after)


def test_plan_json_has_the_keys_of_the_formats_page(answer: dict[str, Any]) -> None:
    """From the formats page, "The answer of plan --json"; keys beside those are additions, listed above."""
    assert answer.keys() == PLAN_KEYS | PLAN_MORE
    assert answer["format"] == 1
    assert answer["job"].keys() == {"title", "currency"}
    assert list(answer["money"]) == MONEY_KEYS
    for look in answer["do_first"]:
        assert look.keys() == DO_FIRST_KEYS | DO_FIRST_MORE
    for fault in answer["faults"]:
        assert fault.keys() == FAULT_KEYS | FAULT_MORE
        assert all(part.keys() == PART_KEYS | PART_MORE for part in fault["parts"])
        for node in nodes(fault["route"]) if fault["route"] else ():
            assert node.keys() == NODE_KEYS | NODE_MORE
            assert all(part.keys() == PART_KEYS | PART_MORE for part in node["parts"])
    for order in answer["orders"]:
        assert order.keys() == ORDER_KEYS | ORDER_MORE
        assert all(line.keys() == LINE_KEYS | LINE_MORE for line in order["lines"])
    assert all(left.keys() == {"part", "units"} for left in answer["leftovers"])
    assert all(barred.keys() == {"kind", "id", "reason"} for barred in answer["not_offered"])
    assert (answer["budget_rule"], answer["bound_unit"]) == ("never-over", "fixes")


def test_money_identities_of_the_formats_page(answer: dict[str, Any]) -> None:
    money = {name: Decimal(text) for name, text in answer["money"].items()}
    assert all(re.fullmatch(r"-?\d+\.\d\d", text) for text in answer["money"].values())
    spent = money["orders"] + money["direct"] + money["deposits"] + money["fallbacks"]
    assert spent + money["unspent"] == money["remaining"]
    assert money["unspent"] >= 0
    assert money["remaining"] == money["cap"] - money["committed"] - money["hold_back"]
    assert sum(Decimal(fault["landed"]) for fault in answer["faults"]) == Decimal(answer["net_cost"])
    assert sum(Decimal(o["goods"]) + Decimal(o["postage"]) for o in answer["orders"]) == money["orders"]
    assert sum(Decimal(o["deposits"]) for o in answer["orders"]) == money["deposits"]
    for order in answer["orders"]:
        assert sum(Decimal(line["price"]) * line["packs"] for line in order["lines"]) == Decimal(order["goods"])
        deposits = sum(Decimal(line["deposit"]) * line["packs"] * line["pack"] for line in order["lines"])
        assert deposits == Decimal(order["deposits"])
        assert sum(Decimal(order[part]) for part in ("goods", "postage", "deposits")) == Decimal(order["total"])


def test_one_attempt_a_fault_looks_as_it_did(once: dict[str, Any]) -> None:
    """The house rule of the third issue: no tree, nothing kept for later, the cost of a fault is its option's."""
    money = {name: Decimal(text) for name, text in once["money"].items()}
    assert (once["do_first"], money["fallbacks"]) == ([], 0)
    assert Decimal(once["net_cost"]) == money["orders"] + money["direct"] + money["deposits"] - money["deposits_due"]
    assert once["expected_minutes"] == once["minutes"]
    for fault in once["faults"]:
        assert (fault["route"], fault["checks"]) == (None, [])
        parts = sum(Decimal(part["landed"]) for part in fault["parts"])
        assert parts + Decimal(fault["direct_price"]) + Decimal(fault["access_share"]) == Decimal(fault["landed"])


def test_the_full_example_is_what_the_issue_asks_for(once: dict[str, Any]) -> None:
    assert once["proven"] is True
    assert once["bound"] == pytest.approx(once["expected_fixes"])
    assert len(once["faults"]) >= 12
    assert any(fault["repair"] is None for fault in once["faults"])
    steps = [f["step"] for f in once["faults"] if f["step"]]
    steps += [line["step"] for order in once["orders"] for line in order["lines"]]
    assert steps == list(range(1, len(steps) + 1))


def test_routes_do_better_than_one_attempt_a_fault(once: dict[str, Any], routed: dict[str, Any]) -> None:
    """Issue 3, "Done means": more expected fixes for the same pot, and every check that is made says its worth."""
    assert routed["money"]["remaining"] == once["money"]["remaining"]
    assert routed["expected_fixes"] > once["expected_fixes"] + 0.01
    worths = {(fault["id"], check["check"]): check for fault in routed["faults"] for check in fault["checks"]}
    made = [(f["id"], n["id"]) for f in routed["faults"] if f["route"] for n in nodes(f["route"]) if n["do"] == "check"]
    assert made
    for where in made:
        assert worths[where]["taken"]
        assert worths[where]["gains"] > 0 or Decimal(worths[where]["saves"]) > 0


def test_steps_of_the_full_example_run_through_trees_and_then_lines(routed: dict[str, Any]) -> None:
    found = [n["step"] for f in routed["faults"] if f["route"] for n in nodes(f["route"]) if n["do"] != "stop"]
    found += [line["step"] for order in routed["orders"] for line in order["lines"]]
    assert found == list(range(1, len(found) + 1))
    firsts = {fault["id"]: fault["step"] for fault in routed["faults"]}
    assert all(look["step"] == firsts[look["fault"]] for look in routed["do_first"])


@pytest.mark.parametrize("variant", VARIANTS)
def test_json_of_every_variant_parses_and_adds_up(variant: str, run: Run, job: Any) -> None:
    code, out, err = run("plan", job(variant), "--json")
    assert (code, err) == (0, "")
    money = {name: Decimal(text) for name, text in json.loads(out)["money"].items()}
    spent = money["orders"] + money["direct"] + money["deposits"] + money["fallbacks"]
    assert spent + money["unspent"] == money["remaining"]
    assert sum(Decimal(f["landed"]) for f in json.loads(out)["faults"]) == spent - money["deposits_due"]


@pytest.mark.parametrize("variant", ROUTED)
def test_json_of_every_job_with_routes_parses_and_adds_up(variant: str, run: Run, tmp_path: Path) -> None:
    code, out, err = run("plan", tiny_job.write(ROUTED[variant], tmp_path / variant), "--json")
    assert (code, err) == (0, "")
    answer = json.loads(out)
    money = {name: Decimal(text) for name, text in answer["money"].items()}
    spent = money["orders"] + money["direct"] + money["deposits"] + money["fallbacks"]
    assert spent + money["unspent"] == money["remaining"]
    assert sum(Decimal(f["landed"]) for f in answer["faults"]) == Decimal(answer["net_cost"])


def test_profit_has_its_bound_in_money(run: Run, job: Any) -> None:
    answer = json.loads(run("plan", job("profit"), "--json")[1])
    # 0.72 x 20.00 + 0.6 x 15.00 - 5.50 - 30 minutes at 6.00 an hour, by hand
    assert (answer["bound_unit"], answer["bound"]) == ("money", 14.90)


def test_orders_json_is_the_plans_orders(run: Run, job: Any) -> None:
    folder = job("deposit")
    orders = json.loads(run("orders", folder, "--json")[1])
    assert orders["orders"] == json.loads(run("plan", folder, "--json")[1])["orders"]


def test_compare_json_has_the_keys_of_the_formats_page(run: Run, job: Any) -> None:
    answer = json.loads(run("compare", job("workshop"), "horn", "--json")[1])
    assert answer.keys() >= {"fault", "options"}
    assert answer["fault"] == "horn"
    assert len(answer["options"]) == 3
    for option in answer["options"]:
        assert option.keys() >= OPTION_KEYS
        assert option.keys() - OPTION_KEYS <= OPTION_MORE | {"best", "repair_title"}
        assert (option["price_up_to"] is None) == (option["chance_down_to"] is None) == (not option["chosen"])
    loses = {option["parts"][0]["condition"] if option["parts"] else "shop": option["loses"]
             for option in answer["options"]}  # fmt: skip
    assert loses == {"new": [], "salvage": [], "shop": []}


def test_compare_says_which_faults_lose(run: Run, tmp_path: Path) -> None:
    poor = tiny_job.but(VARIANTS["base"], pot=tiny_job.but(VARIANTS["base"].pot, cap_minor=1000))
    answer = json.loads(run("compare", tiny_job.write(poor, tmp_path / "poor"), "horn", "--json")[1])
    loses = {option["parts"][0]["condition"]: option["loses"] for option in answer["options"]}
    assert loses == {"new": ["lamp"], "salvage": []}


def test_why_json_compares_every_fault(run: Run, job: Any) -> None:
    answer = json.loads(run("plan", job("base"), "--why", "--json")[1])
    assert sorted(one["fault"] for one in answer["why"]) == ["horn", "lamp"]


def test_hash_seed_changes_no_byte_of_the_full_example(once_text: str, marigold_once: Path, tmp_path: Path) -> None:
    anew = {"XDG_CACHE_HOME": str(tmp_path), "PYTHONHASHSEED": "1"}
    assert process("plan", marigold_once, "--json", **anew).stdout == once_text
    assert json.loads(once_text)["format"] == 1


@pytest.mark.long
def test_hash_seed_changes_no_byte_of_what_the_options_are_worth(tmp_path: Path) -> None:
    folder = tiny_job.write(ROUTED["shared"], tmp_path / "job")
    anew = [{"XDG_CACHE_HOME": str(tmp_path / seed), "PYTHONHASHSEED": seed} for seed in ("0", "1")]
    answers = {process("plan", "--why", folder, "--json", **each).stdout for each in anew}
    assert len(answers) == 1
    assert json.loads(answers.pop())["format"] == 1


# ---- CSV


def test_csv_beside_the_answer(run: Run, job: Any, tmp_path: Path) -> None:
    path = tmp_path / "out.csv"
    for words in (("plan", job("base")), ("orders", job("base")), ("compare", job("base"), "horn")):
        with_file = run(*words, "--csv", path)
        assert with_file == run(*words)
        rows = list(csv.DictReader(path.open(encoding="utf-8", newline="")))
        assert rows
        path.unlink()


def test_csv_of_the_plan_is_a_row_a_fault(run: Run, job: Any, tmp_path: Path) -> None:
    run("plan", job("set"), "--json", "--csv", tmp_path / "out.csv")
    rows = list(csv.DictReader((tmp_path / "out.csv").open(encoding="utf-8", newline="")))
    assert [(row["fault"], row["repair"], row["landed"]) for row in rows] == [
        ("horn", "swap", "18.00"), ("lamp", "", "0.00"),
    ]  # fmt: skip


def test_csv_that_cannot_be_written(run: Run, job: Any, tmp_path: Path) -> None:
    fails_plainly(*run("plan", job("base"), "--csv", tmp_path / "no" / "out.csv"), "cannot be written")
    fails_plainly(*run("plan", job("base"), "--csv", tmp_path), "cannot be written")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes on this system")
def test_csv_does_not_replace_what_is_no_file(run: Run, job: Any, tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    reader = os.open(tmp_path / "pipe", os.O_RDONLY | os.O_NONBLOCK)
    run("plan", job("base"), "--csv", tmp_path / "pipe")
    assert (tmp_path / "pipe").is_fifo()
    assert os.read(reader, 5) == b"fault"
    os.close(reader)


# ---- exit codes


def test_a_fault_of_the_program_is_70_and_says_what_to_report(
    run: Run, job: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = job("base")
    for error in (RuntimeError("the moon"), PlanRefusedError("the moon"), KeyError("the moon")):

        def raising(*_: object, fault: Exception = error, **__: object) -> None:
            raise fault

        monkeypatch.setattr(service, "plan", raising)
        code, out, err = run("plan", folder)
        assert (code, out) == (70, "")
        assert type(error).__name__ in err
        assert "the moon" in err
        assert "Please report" in err
        assert "Traceback" not in err


def test_an_interrupt_is_no_traceback(run: Run, job: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(service, "plan", interrupted)
    code, out, err = run("plan", job("base"))
    assert (code, out, err.strip()) == (130, "", "stopped")


def test_wrong_input_is_2_with_every_problem(run: Run, tmp_path: Path) -> None:
    broken = written(
        tmp_path / "broken",
        '[money]\ncap="-5"\n[[fault]]\nid="a"\nseverity="grave"\n[[fault]]\nid="b"\nseverity="minor"\nsystm="x"\n',
        quotes="part,supplier,condition,price\np,s,used,abc\n",
    )
    for verb in ("plan", "orders", "verify"):
        code, out, err = run(verb, broken)
        fails_plainly(code, out, err, "cap", "grave", "systm", "used", "abc", "job.toml", "quotes.csv", "row 2", "mend")
        assert re.match(r"[5-9] problems", err)


def test_verify_json_lists_problems_and_cautions(run: Run, tmp_path: Path) -> None:
    broken = written(tmp_path / "broken", '[money]\ncap="x"\n[[fault]]\nid="a"\nseverity="grave"\n')
    code, out, err = run("verify", broken, "--json")
    assert (code, err) == (2, "")
    answer = json.loads(out)
    assert {problem["key"] for problem in answer["problems"]} == {"cap", "severity"}
    assert all(
        problem.keys() == {"file", "where", "key", "found", "expected", "mend"} for problem in answer["problems"]
    )
    code, out, err = run("verify", MARIGOLD, "--json")
    assert (code, err, json.loads(out)["problems"]) == (0, "", [])
    unlisted = written(tmp_path / "fine", '[money]\ncap="5"\n', quotes="part,supplier,condition,price\np,s,new,1\n")
    assert len(json.loads(run("verify", unlisted, "--json")[1])["cautions"]) == 2


FOLLY = {
    "a quote of no worth": (
        '[money]\ncap="20"\n[[fault]]\nid="a"\nseverity="minor"\nrepair=[{id="r",chance=0.9,parts={p=1}}]\n',
        "part,supplier,condition,price,good_chance\np,s,new,5,0\np,s,new,7,0.5\n",
        ("compare", "a"),
    ),
    "a chance next to nothing": (
        '[money]\ncap="20"\n[[fault]]\nid="a"\nseverity="minor"\nrepair=[{id="r",chance=1e-308,price="5"}]\n',
        None,
        ("compare", "a"),
    ),
    "the last day of the calendar": (
        (
            '[job]\ntoday=9999-12-30\nneeded_by=9999-12-31\n[money]\ncap="20"\n[[fault]]\nid="a"\nseverity="minor"\n'
            'repair=[{id="r",chance=0.5,price="1",lead_days=5}]\n'
        ),
        None,
        ("plan",),
    ),
}


@pytest.mark.parametrize("folly", FOLLY)
def test_nothing_that_a_person_typed_is_a_fault_of_the_program(folly: str, run: Run, tmp_path: Path) -> None:
    text, quotes, (verb, *more) = FOLLY[folly]
    folder = written(tmp_path / "folly", text, **({"quotes": quotes} if quotes else {}))
    assert run(verb, folder, *more)[0] in (0, 2)


@pytest.mark.parametrize(("encoding", "way"), [("ascii", ()), ("latin-1", ()), ("ascii", ("--json",))])
def test_letters_that_the_terminal_lacks(encoding: str, way: tuple[str, ...], tmp_path: Path) -> None:
    folder = written(tmp_path / "van", '[job]\ntitle="Ωμέγα"\n[money]\ncap="5"\n')
    words = [sys.executable, "-m", "optimiser", "plan", str(folder), *way]
    environment = {**os.environ, "PYTHONIOENCODING": encoding}
    assert subprocess.run(words, check=False, capture_output=True, env=environment, timeout=60).returncode == 0


# ---- what a person sees


def raw_signs(text: str) -> set[str]:
    """Control and formatting signs other than ends of lines."""
    return {sign for sign in text if sign != "\n" and unicodedata.category(sign) in ("Cc", "Cf", "Zl", "Zp")}


def toml(text: str) -> str:
    return json.dumps(text).replace("\x7f", "\\u007f")


@pytest.fixture
def hostile(tmp_path: Path) -> Path:
    """Terminal escape sequences wherever a person's text may hold them."""
    raw = toml(RAW)
    text = (
        f'[job]\ntitle = {raw}\ncurrency = "GBP"\n[money]\ncap = "20"\n'
        f'[[access]]\nid = "dash"\ntitle = {raw}\nprice = "1"\n'
        f'[[part]]\nid = "disc"\ntitle = {raw}\nkind = "free"\n'
        f'[[fault]]\nid = "horn"\ntitle = {raw}\nseverity = "dangerous"\nsystem = "brakes"\n'
        f'repair = [{{ id = "r", title = {raw}, chance = 0.5, parts = {{ disc = 1 }}, access = ["dash"] }}]\n'
        f'[[fault]]\nid = "lamp"\ntitle = {raw}\nseverity = "dangerous"\n'
        f'repair = [{{ id = "r", title = {raw}, chance = 0.5, price = "99" }}]\n'
    )
    quotes = (f"part,supplier,condition,price,ref,note,valid_until\ndisc,alder,new,2,{RAW},{RAW},\n"
              f"disc,alder,salvage,1,{RAW},{RAW},2020-01-01\n")  # fmt: skip
    return written(tmp_path / "hostile", text, quotes=quotes, suppliers=f"supplier,title,note\nalder,{RAW},{RAW}\n")


@pytest.mark.parametrize("words", [("plan",), ("plan", "--why"), ("orders",), ("verify",), ("compare", "horn"), ("compare",), ("compare", "disc"), ("compare", "--matrix")])  # noqa: E501 # fmt: skip
def test_escape_sequences_never_reach_the_terminal(words: tuple[str, ...], run: Run, hostile: Path) -> None:
    code, out, err = run(words[0], hostile, *words[1:])
    assert (code, err) == (0, "")
    assert raw_signs(out) == set()
    assert r"a\x1b[31mb\x9b31m" in re.sub(r"\s+", "", out)


def test_escape_sequences_never_reach_the_terminal_in_json(run: Run, hostile: Path) -> None:
    calls = [
        ("plan", hostile),
        ("orders", hostile),
        ("verify", hostile),
        ("compare", hostile, "horn"),
        ("compare", hostile),
    ]
    assert [raw_signs(run(*call, "--json")[1]) for call in calls] == [set()] * 5


def test_escape_sequences_in_what_is_wrong_or_called(run: Run, tmp_path: Path) -> None:
    text = f"[job]\n{toml(RAW)} = 1\n[money]\ncap = {toml(RAW)}\n[[fault]]\nid = {toml(RAW)}\nseverity = {toml(RAW)}\n"
    broken = written(tmp_path / "broken", text, quotes=f"part,supplier,condition,price,{RAW}\n{RAW},s,{RAW},{RAW},1\n")
    calls = [
        ("plan", broken),
        ("verify", broken),
        ("plan", RAW),
        ("compare", SHORTEST, RAW),
        (RAW,),
        ("plan", f"--{RAW}"),
        ("plan", SHORTEST, "--csv", tmp_path / RAW / "x.csv"),
    ]
    for call in calls:
        code, out, err = run(*call)
        assert (code, out) == (2, "")
        assert raw_signs(err) == set()


@pytest.mark.usefixtures("planned_once")
@pytest.mark.parametrize(
    ("columns", "words"),
    [
        (100, ("plan", "--full")),
        (80, ("plan", "runs-hot")),
        (80, ("orders",)),
        (80, ("verify",)),
    ],
)
def test_no_line_is_longer_than_the_terminal(
    columns: int, words: tuple[str, ...], run: Run, monkeypatch: pytest.MonkeyPatch, marigold_once: Path
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    verb, *rest = words
    out = run(verb, MARIGOLD if words == ("verify",) else marigold_once, *rest)[1]
    fits(out, columns, least=0 if words == ("verify",) else columns - 20)


@pytest.mark.parametrize("columns", [80, 120])
def test_routes_fit_the_terminal(columns: int, marigold_plan: Plan, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    shown = io.StringIO()
    terminal.plan(layout.console(shown), marigold_plan)
    fits(shown.getvalue(), columns, least=columns - 20)
    assert "Look first" in shown.getvalue()


def fits(out: str, columns: int, least: int) -> None:
    lengths = [len(line) for line in out.splitlines()]
    assert least < max(lengths) <= columns
    assert "…" not in out


@pytest.mark.parametrize("columns", [80, 120])
def test_a_comparison_fits_the_terminal(columns: int, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    out = run("compare", SHORTEST, "blade-spindle-bearing-rumbles")[1]
    assert "It stays the choice" in out
    assert max(len(line) for line in out.splitlines()) <= columns
    assert "…" not in out


WIDE = (
    '[job]\ncurrency="JPY"\n[money]\ncap="99999999"\nhour_worth="2500"\n[[fault]]\nid="a"\nseverity="minor"\n'
    'title="A_title_without_any_space_that_has_to_be_broken_somewhere_since_no_terminal_is_as_wide_as_this_word_is_long"\n'
    'repair=[{id="r",chance=0.9,parts={p=2}},{id="shop",by="workshop",chance=0.95,price="12345678",lead_days=120}]\n'
)
WIDE_QUOTES = (
    "part,supplier,condition,price,pack,ref,warranty_months\n"
    "p,a_supplier_without_any_space_in_its_name_that_goes_on_and_on_and_on,refurbished,7654321,1,"
    "REF-0123456789-0123456789-0123456789-0123456789,120\n"
)


@pytest.mark.parametrize("words", [("plan",), ("orders",), ("compare", "a")])
def test_amounts_of_eight_digits_are_whole_and_fit(words: tuple[str, ...], run: Run, tmp_path: Path) -> None:
    folder = written(tmp_path / "wide", WIDE, quotes=WIDE_QUOTES)
    out = run(words[0], folder, *words[1:])[1]
    assert max(len(line) for line in out.splitlines()) <= 80
    assert {"plan": "12345678", "orders": "Nothing to order", "compare": "15308642"}[words[0]] in out
    assert not re.search(r"\d…", out)


@pytest.mark.parametrize("environment", [{"TERM": "xterm-256color"}, {"NO_COLOR": "1", "FORCE_COLOR": "1"}])
def test_no_colour_and_no_escape_codes_into_a_pipe(
    environment: dict[str, str], shortest: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    code, out, err = run("plan", shortest)
    assert code == 0
    assert not re.search(r"\x1b\[[0-9;]*(3[0-7]|4[0-7]|9[0-7]|38|48)", out)  # codes that set a colour
    if "FORCE_COLOR" not in environment:
        assert "\x1b" not in out
        assert "\x1b" not in err


def test_an_overdrawn_pot_is_an_answer(run: Run, job: Any) -> None:
    code, out, err = run("plan", job("overdrawn"))
    assert (code, err) == (0, "")
    assert "overdrawn by 5.55 GBP" in out
    assert "With 0.00 GBP to spend" in out
    money = json.loads(run("plan", job("overdrawn"), "--json")[1])["money"]
    assert (money["remaining"], money["unspent"]) == ("-5.55", "-5.55")


def test_dangerous_faults_left_are_said_first_and_plainly(run: Run, tmp_path: Path) -> None:
    faults = (tiny_job.LAMP, tiny_job.but(tiny_job.HORN, severity="dangerous", title="Brake pipe weeps"))
    poor = tiny_job.but(VARIANTS["base"], faults=faults, quotes=())
    folder = tiny_job.write(poor, tmp_path / "poor")
    out = run("plan", folder)[1]
    assert "THE VEHICLE MUST NOT BE USED" in one_line(out)
    assert out.index("MUST NOT BE USED") < out.index("Brake pipe weeps") < out.index("What is done first")
    left = {"id": "horn", "title": "Brake pipe weeps", "state": "left", "chance": 0.0}
    assert json.loads(run("plan", folder, "--json")[1])["dangerous"] == [left]


def test_an_empty_job_and_one_where_nothing_can_be_bought(run: Run, job: Any, tmp_path: Path) -> None:
    for folder in (job("empty"), tiny_job.write(tiny_job.but(VARIANTS["base"], quotes=(), faults=(tiny_job.HORN,)),
                                                tmp_path / "bare")):  # fmt: skip
        for verb in ("plan", "orders", "verify"):
            code, out, err = run(verb, folder)
            assert (code, err) == (0, "")
            assert out
            assert json.loads(run(verb, folder, "--json")[1])["format"] == 1
    assert "Nothing to order." in run("orders", job("empty"))[1]
    assert run("compare", tmp_path / "bare", "horn")[0] == 0


def test_reasons_in_json_are_whole(run: Run, tmp_path: Path) -> None:
    folder = written(
        tmp_path / "colon",
        '[money]\ncap="5"\n[[part]]\nid="p"\ntitle="Pad: front"\nkind="friction"\n',
        quotes="part,supplier,condition,price\np,s,salvage,1\n",
    )
    (barred,) = json.loads(run("plan", folder, "--json")[1])["not_offered"]
    assert barred["reason"] == "this part is never bought as salvage"


@pytest.mark.parametrize("way", ["", "--json"])
def test_a_reader_that_goes_away_early_sees_no_traceback(way: str, shortest: Path) -> None:
    command = f'"{sys.executable}" -m optimiser plan "{shortest}" {way} | head -1'
    ran = subprocess.run(["sh", "-c", command], check=False, capture_output=True, text=True, timeout=60)
    assert len(ran.stdout.splitlines()) == 1
    assert ran.stderr == ""


def test_the_job_folder_is_never_written_to_but_for_the_record(run: Run, shortest: Path) -> None:
    before = {path: path.read_bytes() for path in shortest.rglob("*") if path.is_file()}
    for verb in ("plan", "orders", "verify"):
        run(verb, shortest)
    after = {path: path.read_bytes() for path in shortest.rglob("*") if path.is_file()}
    assert set(after) - set(before) == {shortest / "record.sqlite"}
    assert {path: after.get(path) for path in before} == before


@pytest.mark.parametrize("name", ["job.toml", "quotes.csv", "suppliers.csv", "quotes/new.csv"])
def test_csv_never_over_what_the_person_wrote(run: Run, job: Any, name: str) -> None:
    folder = job("base")
    (folder / "quotes").mkdir(exist_ok=True)
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    fails_plainly(*run("plan", folder, "--csv", folder / name), "file of the job itself")
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


AMOUNT = re.compile(r"\d+\.\d\d\b")


@pytest.mark.parametrize("columns", ["0", "1", "20", "39"])
@pytest.mark.parametrize(
    "words",
    [("plan",), ("plan", "--full"), ("plan", "horn"), ("orders",), ("compare", "horn"), ("compare",),
     ("basket", "disc=2"), ("stretch",)],
)  # fmt: skip
def test_on_the_narrowest_screen_no_amount_is_lost(
    job: Any, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, columns: str, words: tuple[str, ...]
) -> None:
    """Nor, in a whole plan, a word of what to do."""
    said = []
    for width in ("120", columns):
        monkeypatch.setenv("COLUMNS", width)
        assert cli.main([words[0], str(job("base")), *words[1:]]) == 0
        said.append(capsys.readouterr().out)
    wide, narrow = said
    assert AMOUNT.findall(wide)
    assert not Counter(AMOUNT.findall(wide)) - Counter(AMOUNT.findall(narrow))
    if words == ("plan", "--full"):
        assert set(re.findall(r"\w+", wide)) <= set(re.findall(r"\w+", narrow))


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_an_answer_that_finds_no_room_is_no_fault_of_the_program(job: Any) -> None:
    words = [sys.executable, "-m", "optimiser", "plan", str(job("base"))]
    with open("/dev/full", "w") as full:  # noqa: PTH123 - a device
        run = subprocess.run(words, check=False, stdout=full, stderr=subprocess.PIPE, encoding="utf-8", timeout=60)
    assert run.returncode == 4
    assert "could not be written" in run.stderr
