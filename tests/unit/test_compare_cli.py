"""compare from outside: which name means what, every way to have the answer, what is said and what is refused."""

from __future__ import annotations

import csv
import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from optimiser import text as cells
from optimiser.model.job import Part
from optimiser.model.quote_comparison import Merit
from optimiser.show import tables
from tests import tiny_job
from tests.planned import EXAMPLES
from tests.tiny_job import BASE, HORN, NEW, USED, VARIANTS, but
from tests.unit.test_quoted import GLAZE, LAPSED, LENS, with_lens

Run = Callable[..., tuple[int, str, str]]
BOTH = but(BASE, faults=(but(HORN, id="disc"), *BASE.faults[1:]))
"""A fault and a part of one name."""
RUNS = '=HYPERLINK("x")'


@pytest.fixture
def write(tmp_path: Path) -> Callable[..., Path]:
    return lambda job: tiny_job.write(job, tmp_path / "job")


def flat(text: str) -> str:
    return " ".join(text.split())


def test_without_a_name_every_part_is_compared(run: Run, write: Any) -> None:
    job = but(with_lens(postage_minor=450), quotes=(NEW, USED, LENS, LAPSED))
    code, out, err = run("compare", write(job), "--explain")
    assert (code, err) == (0, "")
    said = flat(out)
    assert "4 quotes of 2 parts, 1 of which cannot be bought, held against the plan as it is now." in said
    assert "disc: 1 needed" in said
    assert "lens: 1 needed" in said
    assert "lapsed on 2026-11-23" in said
    assert "Cheapest each a; cheapest alone a; cheapest within the plan a;" in said
    assert "a is the only one that can be bought." in said
    assert "alone + (1 - g) / g x again" in said
    assert "common practice, no published source" in said


def test_one_part_says_how_each_figure_comes_about(run: Run, write: Any) -> None:
    code, out, err = run("compare", write(with_lens(postage_minor=450, free_over_minor=1600)), "disc")
    assert (code, err) == (0, "")
    said = flat(out)
    assert "Alone: 1 x 9.00 + postage 4.50 = 13.50." in said
    assert "In the plan: the order there comes to 11.50 without it and to 16.00 with it (postage 0.00) = 4.50." in said
    assert "sound 0.98 of the time, so 0.020 fail on the average: 13.50 + 0.020 x (13.50 again) = 13.78." in said
    assert "nothing else is ordered there, so the same, 3.00." in said


def test_the_sums_name_top_ups_lost_deposits_refunds_and_minimums(run: Run, write: Any) -> None:
    topped = but(with_lens(postage_minor=10, minimum_order_minor=1500), quotes=(but(NEW, refund_share=0.5), USED, LENS))
    said = flat(run("compare", write(topped), "disc", "--alone")[1])
    assert "1 x 9.00 + 7.00 more goods to reach its minimum order + postage 0.10 = 16.10." in said
    assert "x (16.10 again less 4.50 refunded)" in said
    assert "1 pack x 9.00 + 2.00 deposits lost on pieces too many = 11.00." in flat(
        run("compare", write(VARIANTS["deposit"]), "disc")[1]
    )
    short = but(topped, quotes=(but(NEW, stock=1), USED))
    assert "all that alder offers does not come to its minimum order of 15.00." in flat(
        run("compare", write(short), "disc")[1]
    )
    last = but(BASE, quotes=(but(NEW, stock=1), but(USED, good_chance=0.0)))
    said = flat(run("compare", write(last), "disc")[1])
    assert "if another like it turns up: there is stock for one try only." in said
    assert "no figure, since it is as good as never sound" in said


def test_a_plan_that_orders_what_another_undercuts_says_that_it_weighs_more_than_money(run: Run, write: Any) -> None:
    said = "The plan orders b all the same: it weighs the chance of a cure"
    assert said in flat(run("compare", write(BASE), "disc")[1])
    assert "all the same" not in run("compare", write(but(BASE, quotes=(NEW, but(USED, price_minor=1000)))), "disc")[1]


def test_of_very_many_quotes_only_the_first_at_each_thing_are_shown(run: Run, write: Any, monkeypatch: Any) -> None:
    """The dear one goes; it stays where a part is named, and in the table that is written."""
    dear = but(NEW, id="quotes.csv:5", price_minor=9999)
    folder = write(but(BASE, quotes=(NEW, USED, dear, LENS)))
    assert "99.99" in run("compare", folder)[1]
    monkeypatch.setattr("optimiser.show.quotes.MOST_SHOWN", 3)
    out = run("compare", folder)[1]
    assert "So many that only those that are the best at something are shown" in flat(out)
    assert "99.99" not in out
    assert "9.00" in out
    assert "99.99" in run("compare", folder, "disc")[1]
    assert "99.99" in run("compare", folder, "--json")[1]


def test_alone_makes_no_plan(run: Run, write: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("optimiser.service.plan", None)
    code, out, err = run("compare", write(BASE), "--alone")
    assert (code, err) == (0, "")
    assert "by themselves, without a plan" in out
    assert "In plan" not in out
    assert "=>" not in out


def test_a_fault_is_compared_as_ever(run: Run, write: Any) -> None:
    code, out, err = run("compare", write(BASE), "horn")
    assert (code, err) == (0, "")
    assert "It stays the choice up to a price of" in out


def test_a_fault_is_named_by_a_step_of_the_last_plan_too(run: Run, write: Any) -> None:
    """As `plan` takes it; a number that was no step's is a name that nothing has."""
    folder = write(BASE)
    faults = json.loads(run("plan", folder, "--json")[1])["faults"]
    step = str(next(one["step"] for one in faults if one["id"] == "lamp"))
    assert json.loads(run("compare", folder, step, "--json")[1])["fault"] == "lamp"
    assert run("compare", folder, "99")[0] == 2


def test_a_name_that_is_both_is_the_fault_and_that_is_said(run: Run, write: Any) -> None:
    folder = write(BOTH)
    code, out, err = run("compare", folder, "disc")
    assert code == 0
    assert "It stays the choice up to" in out
    assert err == "disc is a fault and a part; this is the fault. For the part say --part.\n"
    code, out, err = run("compare", folder, "disc", "--part")
    assert (code, err) == (0, "")
    assert "disc: 1 needed" in out


def test_an_unknown_name_has_the_nearest_of_both(run: Run, write: Any) -> None:
    folder = write(BASE)
    for words, near in ((("dics",), "disc"), (("hron",), "horn"), (("horn", "--part"), "horn")):
        code, out, err = run("compare", folder, *words)
        assert (code, out) == (2, "")
        assert f"the job has no {'' if '--part' in words else 'fault and no '}part {words[0]!r}" in err
        assert near in err


@pytest.mark.parametrize(
    "words", [("horn", "--alone"), ("disc", "--matrix"), ("--matrix", "--alone"), ("horn", "lamp")], ids=" ".join
)
def test_what_does_not_go_together_is_refused(run: Run, write: Any, words: tuple[str, ...]) -> None:
    code, out, err = run("compare", write(BASE), *words)
    assert (code, out) == (2, "")
    assert "Traceback" not in err


def test_json_has_every_figure_with_its_sums(run: Run, write: Any) -> None:
    answer = json.loads(run("compare", write(with_lens(postage_minor=450, free_over_minor=1600)), "disc", "--json")[1])
    assert answer["held_against_plan"] is True
    (part,) = answer["parts"]
    assert (part["part"], part["units"], part["repairs"], part["on_shelf"]) == ("disc", 1, ["horn/swap"], 0)
    used, new = part["quotes"]
    assert (used["supplier"], used["price_each"], used["not_offered"]) == ("birch", "3.00", None)
    assert new["alone"] == {
        "landed": "13.50", "packs": 1, "goods": "9.00", "order_top_up": "0.00", "order_postage": "4.50",
        "order_with_it": "13.50", "order_without_it": "0.00", "deposits_lost": "0.00",
    }  # fmt: skip
    assert new["in_plan"]["landed"] == "4.50"
    assert new["until_one_works"] == {
        "expected": "13.78", "each_failure_takes": "13.50", "refunded": "0.00", "replaced_under_warranty": False,
        "if_another_turns_up": False,
    }  # fmt: skip
    assert set(used["wins"]) <= {merit.value for merit in Merit}
    everything = json.loads(run("compare", write(BASE), "--json", "--alone")[1])
    assert [each["in_plan"] for each in everything["parts"][0]["quotes"]] == [None, None]
    lapsed = json.loads(run("compare", write(but(BASE, quotes=(NEW, LAPSED))), "--json", "--alone")[1])
    assert lapsed["parts"][0]["quotes"][1]["not_offered"] == "lapsed on 2026-11-23"


def test_csv_holds_one_row_a_quote(run: Run, write: Any, tmp_path: Path) -> None:
    assert run("compare", write(with_lens()), "--csv", tmp_path / "quotes.csv")[0] == 0
    with (tmp_path / "quotes.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert list(rows[0]) == [column.name for column in tables.QUOTED]
    assert [(r["part"], r["supplier"], r["alone"], r["in_plan"]) for r in rows] == [
        ("disc", "birch", "3.00", "3.00"), ("disc", "alder", "9.00", "9.00"), ("lens", "alder", "7.00", "7.00"),
    ]  # fmt: skip


def test_a_workbook_has_a_sheet_of_quotes_and_the_matrix_and_no_formulas(run: Run, write: Any, tmp_path: Path) -> None:
    path = tmp_path / "quotes.xlsx"
    job = but(with_lens(), quotes=(but(NEW, ref=RUNS), USED, LENS))
    assert run("compare", write(job), "--xlsx", path)[0] == 0
    book = openpyxl.load_workbook(path)
    assert book.sheetnames == ["quotes", "matrix"]
    heads, *rows = book["quotes"].iter_rows()
    assert [cell.value for cell in heads] == [column.name for column in tables.QUOTED]
    place = [cell.value for cell in heads].index("ref")
    (risky,) = [row[place] for row in rows if row[place].value]
    assert risky.data_type == "s"
    assert cells.plain_again(risky.value) == RUNS
    assert [[cell.value for cell in row] for row in book["matrix"].iter_rows()][:2] == [
        ["part", "condition", "alder", "birch"], ["disc", "new", 9, None],
    ]  # fmt: skip
    assert run("compare", write(job), "horn", "--xlsx", path)[0] == 0
    assert openpyxl.load_workbook(path).sheetnames == ["options"]


def test_text_that_a_spreadsheet_would_run_is_neutral_in_csv(run: Run, write: Any, tmp_path: Path) -> None:
    folder = write(but(BASE, quotes=(but(NEW, ref=RUNS), USED)))
    assert run("compare", folder, "--alone", "--csv", tmp_path / "quotes.csv")[0] == 0
    assert "'=HYPERLINK" in (tmp_path / "quotes.csv").read_text(encoding="utf-8")


@pytest.mark.parametrize("option", ["--csv", "--xlsx"])
def test_nothing_is_written_over_a_file_of_the_job(run: Run, write: Any, option: str) -> None:
    folder = write(BASE)
    before = (folder / "quotes.csv").read_bytes()
    code, out, err = run("compare", folder, "--alone", option, folder / "quotes.csv")
    assert (code, out) == (2, "")
    assert "a file of the job itself" in flat(err)
    assert (folder / "quotes.csv").read_bytes() == before


def test_a_file_of_the_job_is_refused_before_anything_is_planned(
    run: Run, write: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = write(BASE)
    monkeypatch.setattr("optimiser.cli.comparing.read_moment", lambda _: pytest.fail("the job was read"))
    code, out, err = run("compare", folder, "--csv", folder / "quotes.csv")
    assert (code, out) == (2, "")
    assert "a file of the job itself" in flat(err)


def test_a_workbook_that_cannot_be_written_is_said(run: Run, write: Any, tmp_path: Path) -> None:
    code, out, err = run("compare", write(BASE), "--alone", "--xlsx", tmp_path / "nowhere" / "quotes.xlsx")
    assert (code, out) == (2, "")
    assert "cannot be written" in flat(err)


def test_the_matrix_every_way(run: Run, write: Any, tmp_path: Path) -> None:
    folder = write(
        but(with_lens(), quotes=(NEW, USED, LENS, but(LENS, id="quotes.csv:11", supplier="birch", price_minor=650)))
    )
    code, out, err = run("compare", folder, "--matrix", "--csv", tmp_path / "m.csv", "--xlsx", tmp_path / "m.xlsx")
    assert (code, err) == (0, "")
    assert [line.split() for line in out.splitlines() if line.strip().startswith(("disc", "lens"))] == [
        ["disc,", "new", "9.00"], ["disc,", "salvage", "3.00"], ["lens,", "new", "7.00", "6.50*"],
    ]  # fmt: skip
    assert (tmp_path / "m.csv").read_text(encoding="utf-8").splitlines() == [
        "part,condition,alder,birch", "disc,new,9.00,", "disc,salvage,,3.00", "lens,new,7.00,6.50",
    ]  # fmt: skip
    assert openpyxl.load_workbook(tmp_path / "m.xlsx").sheetnames == ["matrix"]
    answer = json.loads(run("compare", folder, "--matrix", "--json")[1])
    assert answer["suppliers"] == ["alder", "birch"]
    assert answer["rows"][2] == {
        "part": "lens", "condition": "new", "price_each": {"alder": "7.00", "birch": "6.50"}, "cheapest": ["birch"],
    }  # fmt: skip


@pytest.mark.parametrize("columns", [50, 80, 120])
@pytest.mark.parametrize("words", [(), ("disc",), ("--matrix",)])
def test_every_line_fits_the_screen(
    run: Run, write: Any, monkeypatch: pytest.MonkeyPatch, columns: int, words: tuple[str, ...]
) -> None:
    job = but(with_lens(postage_minor=450), quotes=(but(NEW, price_minor=1_234_567, pack=12), USED, LENS, LAPSED))
    folder = write(job)
    monkeypatch.setenv("COLUMNS", str(columns))
    code, out, _ = run("compare", folder, *words)
    assert code == 0
    assert max(map(len, out.splitlines())) <= columns
    assert "1028.81" in out
    assert "3.00" in out


@pytest.mark.parametrize("words", [(), ("--alone",), ("--matrix",), ("--json",), ("--matrix", "--json")])
def test_a_job_without_quotes_is_no_trouble(run: Run, write: Any, words: tuple[str, ...]) -> None:
    for job in (VARIANTS["empty"], but(BASE, faults=(GLAZE,), quotes=(), suppliers=())):
        code, out, err = run("compare", write(job), *words)
        assert (code, err) == (0, "")
        assert out
    if words in ((), ("--alone",)):
        assert "Nobody has quoted for it." in out


def test_the_columns_are_explained_when_that_is_asked_for(run: Run, write: Any) -> None:
    folder = write(BASE)
    short, full = flat(run("compare", folder, "disc")[1]), flat(run("compare", folder, "disc", "--explain")[1])
    assert short.endswith("* the best at it. => in the plan's orders. Say --explain for what the columns mean.")
    assert "alone + (1 - g) / g x again" not in short
    assert "alone + (1 - g) / g x again" in full
    assert "Say --explain" not in full


def test_deposits_and_what_is_out_of_stock_are_said(run: Run, write: Any) -> None:
    """Own arithmetic: one pack of two at a deposit of 2.50 a piece is 5.00, of which the spare piece's is lost."""
    pair = but(NEW, pack=2, deposit_minor=250)
    out = flat(run("compare", write(but(BASE, quotes=(pair, but(USED, stock=0)))), "disc", "--alone")[1])
    assert "deposit 2.50 a piece" in out
    assert "Deposits: 2 x 2.50 = 5.00 to pay now besides; 2.50 of it comes back with the old units." in out
    assert "It cannot be bought: out of stock." in out
    whole = but(NEW, deposit_minor=250)
    assert "Deposits: 1 x 2.50 = 2.50 to pay now besides; it comes back" in flat(
        run("compare", write(but(BASE, quotes=(whole,))), "disc", "--alone")[1]
    )


def test_the_matrix_keeps_eight_suppliers_side_by_side_and_sorts_by_title(
    run: Run, write: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    names = ["alder-works", "alder-yard", "beech-barn", "cedar-shed", "damson-row", "elm-street", "fir-lane", "gorse"]
    quotes = [but(NEW, id=f"quotes.csv:{2 + n}", supplier=name, price_minor=10_000 + n) for n, name in enumerate(names)]
    lens = but(LENS, id="quotes.csv:20", supplier="gorse")
    job = but(
        BASE, quotes=(*quotes, lens), parts=(Part(id="disc", title="Zinc disc"), Part(id="lens", title="Clear lens"))
    )
    code, out, _ = run("compare", write(job), "--matrix")
    assert code == 0
    heads = [line for line in out.splitlines() if line.strip().startswith("Part")]
    assert [head.split() for head in heads] == [
        ["Part", "alder", "alde2", "beech", "cedar", "damso", "elm-s", "fir-l", "gorse"]
    ]
    assert out.index("Clear lens") < out.index("Zinc disc")
    assert "alde2: alder-yard" in flat(out)
    assert "gorse: gorse" not in out
    assert max(map(len, out.splitlines())) <= 80


def test_two_tables_do_not_go_into_one_file(run: Run, write: Any, tmp_path: Any) -> None:
    target = tmp_path / "both"
    code, _, err = run("compare", write(BASE), "--alone", "--csv", target, "--xlsx", target)
    assert (code, target.exists()) == (2, False)
    assert "Give them two names." in err


@pytest.mark.parametrize("option", ["--csv", "--xlsx"])
@pytest.mark.parametrize("target", [".", "/"])
def test_a_folder_is_no_file_for_a_table(run: Run, write: Any, option: str, target: str) -> None:
    code, out, err = run("compare", write(BASE), "--alone", option, target)
    assert (code, out) == (2, "")
    assert f"{target} cannot be written: Is a directory." in err


def test_the_numbers_of_a_route_are_those_of_the_kept_plan(run: Run, tmp_path: Path) -> None:
    """What is written down by a number that is shown is the step that it stands at; what nobody kept has none."""
    job = tmp_path / "job"
    shutil.copytree(EXAMPLES / "look-first", job, ignore=shutil.ignore_patterns("record.sqlite*"))
    route = "Engine idling, bypass the regulator for a moment"
    said = flat(run("compare", job, "charging")[1])
    assert route in said
    assert f". {route}" not in said, "no plan was kept yet"
    run("plan", job)
    assert f"2. {route}" in flat(run("compare", job, "charging")[1])
    assert run("left", job, "bilge")[0] == 0
    assert f"2. {route}" in flat(run("compare", job, "charging")[1]), "the first fault of the plan by now"


def test_per_fix_is_what_the_figures_beside_it_come_to(run: Run) -> None:
    """Landed is the cost of all that is done about the fault, so the chance of all that stands there too."""
    job = EXAMPLES / "look-first"
    rows = json.loads(run("compare", job, "charging", "--json")[1])["options"]
    assert any(row["chance_in_all"] > row["chance"] + 0.01 for row in rows)
    said = run("compare", job, "charging")[1]
    for row in rows:
        assert float(row["cost_per_fix"]) == pytest.approx(float(row["landed"]) / row["chance_in_all"], abs=0.01)
        line = next(words for words in map(str.split, said.splitlines()) if row["cost_per_fix"] in words)
        assert f"{row['chance']:.0%}/{row['chance_in_all']:.0%}" in line
    assert "(divided by the second chance)" in flat(said)


def test_the_reason_against_a_rival_survives_a_calculator(run: Run, write: Any) -> None:
    """What the difference of prices is of is said, for postage may be in one of them and not in the plan's share."""
    said = flat(run("plan", write(but(BASE, suppliers=with_lens(postage_minor=450).suppliers)), "--full")[1])
    assert "salvage from birch would save 10.50 GBP (3.00 against 13.50, each bought alone)" in said
