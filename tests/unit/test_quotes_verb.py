"""The verb ``quotes``: what it says of sheets as they arrive, and what enters the job on the person's word alone."""

from __future__ import annotations

import csv
import io
import json
import re
import zipfile
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
import xlsxwriter

from optimiser import cli, job_folder, quote_import, service
from optimiser.errors import EXIT_UNANSWERED
from optimiser.ledger import Store
from optimiser.quote_import import register
from optimiser.show import as_json

DAY = date(2026, 11, 24)
JOB = """
[job]
title = "Nettle, an invented trailer"
currency = "GBP"
today = 2026-11-24
[money]
cap = "300.00"
[[part]]
id = "front-disc"
title = "Front brake disc"
[[part]]
id = "rear-shoe"
title = "Rear brake shoe"
[[fault]]
title = "Brakes grind"
severity = "dangerous"
  [[fault.repair]]
  title = "New discs"
  chance = 0.9
  parts = { front-disc = 2 }
"""
PLAIN = "Part,Condition,Price,Ref\nFront brake disc,new,£27.50,Q1\nRear brake shoe,recon,2 for £30,Q2\n"
NET = "Beschreibung;Zustand;Preis netto GBP\nFront brake disc;neu;1.020,50\nRear brake shoe;neu;10,00\n"
Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, folder: Path) -> Run:
    """Call ``quotes`` on the job in this process: exit code, standard output, standard error."""
    monkeypatch.setenv("COLUMNS", "80")

    def called(*words: object) -> tuple[int, str, str]:
        code = cli.main(["quotes", str(folder), *map(str, words)])
        return code, *capsys.readouterr()

    return called


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    home = tmp_path / "job"
    home.mkdir()
    (home / "job.toml").write_text(JOB, encoding="utf-8")
    (home / "suppliers.csv").write_text("supplier,postage\noddlode,5.00\n", encoding="utf-8")
    return home


@pytest.fixture
def sheet(tmp_path: Path) -> Callable[..., Path]:
    """A file beside the job."""

    def written(text: str | bytes, name: str = "oddlode.csv") -> Path:
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return written


def files_of(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def test_what_was_understood_is_shown_and_nothing_is_written(run, sheet, folder):
    before = files_of(folder)
    code, out, err = run(sheet(PLAIN), "--all")
    assert (code, err) == (0, "")
    assert "oddlode.csv: 2 quotes understood" in out
    assert re.search(r"Part\s+part\s+our own word for it", out)
    assert re.search(r"3\s+rear-shoe, refurbished, oddlode\s+30.00", out)
    assert 'written "2 for £30"; 2 in the pack: 15.00 each; ref Q2' in out
    assert "Nothing was written. To take it into the job, say the same with --accept." in out
    assert files_of(folder) == before


def test_accept_writes_a_clean_sheet_that_the_job_reads_and_leaves_the_original(run, sheet, folder):
    original = sheet(PLAIN)
    code, out, _ = run(original, "--accept")
    assert code == 0
    assert "Taken in: quotes/oddlode-2026-11-24.csv. The original stays as it is." in out
    assert original.read_bytes() == PLAIN.encode()
    quotes = job_folder.job(folder, DAY).quotes
    assert [(q.part, q.supplier, q.condition, q.price_minor, q.pack, q.ref) for q in quotes] == [
        ("front-disc", "oddlode", "new", 2750, 1, "Q1"),
        ("rear-shoe", "oddlode", "refurbished", 3000, 2, "Q2"),
    ]


def test_what_was_accepted_is_taken_out_again_and_put_back(run, sheet, folder):
    _, out, _ = run(sheet(PLAIN), "--accept")
    assert f"To take it out again: optimiser quotes {folder} --take-out\n" in out
    after = job_folder.job(folder, DAY).quotes
    code, out, err = run("--take-out")
    assert (code, err) == (0, "")
    assert "Taken out: quotes/oddlode-2026-11-24.csv. All stands as it did before;" in " ".join(out.split())
    assert "THE VEHICLE MUST NOT BE USED" in " ".join(out.split())
    assert f"To put back: optimiser quotes {folder} quotes/oddlode-2026-11-24.csv --put-back\n" in out
    assert job_folder.job(folder, DAY).quotes == ()
    code, out, _ = run(folder / "quotes/oddlode-2026-11-24.csv", "--put-back", "--json")
    assert code == 0
    told = json.loads(out)
    assert (told["taken_out"], told["put_back"], told["changed_since"]) == ([], ["quotes/oddlode-2026-11-24.csv"], [])
    assert job_folder.job(folder, DAY).quotes == after
    assert run("quotes/oddlode-2026-11-24.csv", "--take-out")[0] == 0


def test_what_is_bought_stays_written_down_when_its_quote_is_taken_out(run, sheet, folder):
    run(sheet(PLAIN), "--accept")
    assert cli.main(["bought", str(folder), "front-disc", "from", "oddlode", "--packs", "2", "--json"]) == 0
    record = Store(folder).entries()
    assert run("--take-out")[0] == 0
    assert Store(folder).entries() == record
    job = service.moment(folder, DAY).job
    assert (job.pot.committed_minor, [(own.part, own.units) for own in job.owned]) == (6000, [("front-disc", 2)])
    assert cli.main(["plan", str(folder), "--json"]) == 0


def test_what_makes_the_job_unreadable_is_taken_out_all_the_same(run, sheet, folder):
    run(sheet(PLAIN), "--accept")
    good = (folder / "job.toml").read_text(encoding="utf-8")
    (folder / "job.toml").write_text("nonsense [", encoding="utf-8")
    code, _, err = run("--take-out")
    assert code == EXIT_UNANSWERED
    assert "quotes/oddlode-2026-11-24.csv: taken out; only the answer could not be given." in err
    (folder / "job.toml").write_text(good, encoding="utf-8")
    assert job_folder.job(folder, DAY).quotes == ()


@pytest.mark.parametrize(
    "words",
    [("--take-out", "--put-back"), ("--take-out", "--accept"), ("--put-back", "--whole"),
     ("--take-out", "--csv", "x.csv"), ("--take-out", "--ex-tax", "20"), ("--put-back", "--map", "a=price"),
     ("--take-out", "a.csv", "b.csv")],
)  # fmt: skip
def test_taking_out_goes_by_itself(run, sheet, folder, words):
    run(sheet(PLAIN), "--accept")
    before = files_of(folder)
    code, out, err = run(*words)
    assert (code, out) == (2, "")
    assert "go by themselves" in err
    assert files_of(folder) == before


def test_a_newer_sheet_says_what_went_up_what_is_new_and_what_is_gone(run, sheet, folder):
    run(sheet(PLAIN), "--accept")
    newer = "Part,Condition,Price,Ref\nFront brake disc,new,29.70,Q1\nFront brake disc,used,9.00,Q7\n"
    code, out, _ = run(sheet(newer))
    assert code == 0
    flat = " ".join(out.split())
    assert "front-disc, new, oddlode, ref Q1: up 8 %, 27.50 before, 29.70 GBP now" in flat
    assert "front-disc, salvage, oddlode, ref Q7: new, 9.00 GBP" in flat
    assert "rear-shoe, refurbished, pack of 2, oddlode, ref Q2: not in this sheet, 30.00 GBP before; ends today" in flat
    run(sheet(newer), "--accept")
    standing = [(q.part, q.price_minor) for q in job_folder.job(folder, DAY).quotes if not lapsed(q)]
    assert sorted(standing) == [("front-disc", 900), ("front-disc", 2970)]


def lapsed(quote) -> bool:
    return quote.valid_until is not None and quote.valid_until < DAY


def test_a_sheet_of_another_name_ends_nothing_unless_it_is_the_whole_offer(run, sheet, folder):
    run(sheet(PLAIN), "--accept")
    offer = sheet("Part,Condition,Price\nRear brake shoe,new,12.00\n", "special.csv")
    code, out, _ = run(offer, "--supplier", "oddlode")
    assert code == 0
    assert "still stands in oddlode-2026-11-24.csv: say --whole if it is gone" in " ".join(out.split())
    run(offer, "--supplier", "oddlode", "--accept", "--whole")
    assert [q.part for q in job_folder.job(folder, DAY).quotes if not lapsed(q)] == ["rear-shoe"]


def test_a_lapsed_quote_is_kept_and_shown_as_lapsed(run, sheet, folder):
    text = "Part,Condition,Price,Valid until\nFront brake disc,new,27.50,2026-11-23\nRear brake shoe,new,9,2026-11-24\n"
    code, out, _ = run(sheet(text), "--accept", "--all")
    assert code == 0
    assert "LAPSED on 2026-11-23" in out
    assert "until 2026-11-24" in out
    assert "1 quote lapsed: kept and shown as lapsed, never planned with" in out
    assert len(job_folder.job(folder, DAY).quotes) == 2


def test_a_doubt_about_tax_ends_with_2_and_the_mend_that_it_names_settles_it(run, sheet, folder):
    net = sheet(NET)
    before = files_of(folder)
    code, out, err = run(net, "--accept")
    assert code == 2
    assert "2 rows set aside" in out
    assert "say the rate to add, for twenty percent: --ex-tax 20" in err
    assert files_of(folder) == before
    code, out, err = run(net, "--accept", "--ex-tax", "20")
    assert (code, err) == (0, "")
    assert [q.price_minor for q in job_folder.job(folder, DAY).quotes] == [122460, 1200]


@pytest.mark.parametrize(
    "line", ["All prices exclude 20 % VAT", "alle Preise in GBP zzgl. 20 % MwSt", "+ 20% VAT on everything"]
)
def test_a_line_of_text_that_names_the_rate_is_believed_and_shown(run, sheet, line):
    code, out, _ = run(sheet(f"{line}\n\nPart,Condition,Net price\nFront brake disc,new,10.00\n"), "--all")
    assert code == 0
    assert "10.00 + 20 % tax = 12.00" in out


def test_an_ambiguous_decimal_sign_shows_both_readings_and_names_the_mend(run, sheet):
    text = "Part;Condition;Price\nFront brake disc;new;1.234\n"
    code, _, err = run(sheet(text))
    assert code == 2
    assert "this can be read as 1234 or as 1.234" in err
    assert '--decimal "," or --decimal "."' in err  # the one first under which the amount fits the currency
    assert run(sheet(text), "--decimal", ",")[0] == 0


def test_of_two_files_none_is_taken_in_while_one_is_in_doubt(run, sheet, folder):
    before = files_of(folder)
    code, out, err = run(sheet(PLAIN), sheet(NET, "loft.csv"), "--accept")
    assert code == 2
    assert "oddlode.csv: 2 quotes understood" in out
    assert "loft.csv" in err
    assert "Nothing was written" in out
    assert files_of(folder) == before
    code, _, err = run(sheet(PLAIN), sheet(NET, "loft.csv"), "--accept", "--ex-tax", "20")
    assert (code, err) == (0, "")
    assert len(job_folder.job(folder, DAY).quotes) == 4


def test_a_heading_is_told_and_kept_for_the_supplier_s_next_sheet(run, sheet):
    odd = "Part,Condition,Zzyx\nFront brake disc,new,27.50\n"
    code, _, err = run(sheet(odd))
    assert code == 2
    assert '--map "Zzyx=price"' in err
    assert run(sheet(odd), "--map", "Zzyx=price", "--accept")[0] == 0
    code, out, err = run(sheet(odd.replace("27.50", "28.00"), "oddlode 2.csv"))
    assert (code, err) == (0, "")
    assert "settled on an earlier sheet of oddlode and used again" in " ".join(out.split())


def test_what_is_said_this_once_is_not_kept(run, sheet, folder):
    odd = "Part,Condition,Zzyx\nFront brake disc,new,27.50\n"
    assert run(sheet(odd), "--map", "Zzyx=price", "--accept", "--this-once")[0] == 0
    assert register.read(folder).suppliers == {}
    assert run(sheet(odd))[0] == 2


def test_a_heading_may_stand_in_one_of_two_files(run, sheet):
    odd = sheet("Part,Condition,Zzyx\nFront brake disc,new,27.50\n", "loft.csv")
    assert run(odd, sheet(PLAIN), "--map", "Zzyx=price")[0] == 0
    code, _, err = run(odd, sheet(PLAIN), "--map", "Zzyx=price", "--map", "Nowhere=note")
    assert code == 2
    assert err.count("write the heading as it stands") == 2


def test_a_part_and_a_supplier_by_other_names(run, sheet):
    text = "Part,Condition,Price,Supplier\nThe round thing,new,27.50,That shop\n"
    code, out, err = run(sheet(text, "s.csv"))
    assert code == 2
    assert '"The round thing" is no part of the job; nearest:' in " ".join(out.split())
    assert "no row that was understood as a quote" in err
    words = ("--part", "The round thing=front-disc", "--supplier", "That shop=oddlode")
    code, out, _ = run(sheet(text, "s.csv"), *words, "--all")
    assert code == 0
    assert "front-disc, new, oddlode" in out


def test_a_sheet_of_which_all_is_sold_sends_back_to_the_supplier(run, sheet):
    code, _, err = run(sheet("Part,Condition,Price inc VAT,Note\nFront brake disc,used,12.00,SOLD\n"))
    assert code == 2
    assert "is sold: ask the supplier what else there is" in " ".join(err.split())


def test_the_condition_of_the_whole_sheet(run, sheet):
    text = "Part,Price\nFront brake disc,27.50\n"
    code, _, err = run(sheet(text))
    assert code == 2
    assert "--condition salvage (or new, refurbished)" in err
    code, out, _ = run(sheet(text), "--condition", "salvage", "--all")
    assert code == 0
    assert "front-disc, salvage, oddlode" in out


def test_words_that_say_nothing_are_all_named_at_once(run, sheet):
    code, out, err = run(sheet(PLAIN), "--map", "Price", "--part", "=x", "--supplier", "a", "--supplier", "b")
    assert (code, out) == (2, "")
    assert '--map "Price" does not say what stands for what.' in err
    assert '--part "=x" does not say what stands for what.' in err
    assert "--supplier says a and b." in err
    assert "Nothing was written." in err


def test_no_file_and_a_file_that_is_not_there(run, tmp_path):
    code, _, err = run()
    assert code == 2
    assert " FILE..." in err
    code, _, err = run(".")
    assert code == 2
    assert "\n.\n    found     a folder" in err
    code, out, err = run(tmp_path / "none.csv")
    assert code == 2
    assert "no such file" in err
    assert "none.csv: it cannot be read, see above" in out


def test_a_hostile_file_is_named_and_the_other_is_still_shown(run, sheet, folder):
    bomb = io.BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("[Content_Types].xml", "<Types/>")
        packed.writestr("xl/workbook.xml", b"0" * 60_000_000)
    before = files_of(folder)
    code, out, err = run(sheet(bomb.getvalue(), "bomb.xlsx"), sheet(PLAIN), "--accept")
    assert code == 2
    assert "bomb.xlsx" in err
    assert "Traceback" not in err
    assert "oddlode.csv: 2 quotes understood" in out
    assert files_of(folder) == before


def test_json_has_everything(run, sheet):
    text = PLAIN + "Rear brake shoe,new,POA,\n"
    code, out, _ = run(sheet(text), "--json")
    answer = json.loads(out)
    (file,) = answer["files"]
    assert (code, answer["written"], file["sheet"], file["readable"]) == (0, False, None, True)
    assert [(h["heading"], h["column"]) for h in file["headings"]][:2] == [("Part", "part"), ("Condition", "condition")]
    assert (
        file["quotes"][1] | {"price": "30.00", "each": "15.00", "pack": 2, "written": "2 for £30"} == file["quotes"][1]
    )
    assert [(row["place"], row["kind"]) for row in file["aside"]] == [("row 4", "no price")]
    assert [change["what"] for change in file["changes"]] == ["new", "new"]
    code, out, _ = run(sheet(NET), "--json")
    assert code == 2
    assert json.loads(out)["files"][0]["problems"][0]["mend"].endswith("--ex-tax 20")


def test_csv_holds_every_row_and_no_formula(run, sheet, tmp_path, folder):
    text = PLAIN + "Rear brake shoe,new,POA,=1+1\n"
    target = tmp_path / "out.csv"
    assert run(sheet(text), "--csv", target)[0] == 0
    rows = list(csv.DictReader(target.open(encoding="utf-8", newline="")))
    assert [row["taken"] for row in rows] == ["yes", "yes", "no"]
    assert rows[1]["each"] == "15.00"
    assert rows[2]["reason"].startswith("no price")
    assert run(sheet(text), "--csv", folder / "quotes" / "x.csv")[0] == 2


@pytest.mark.parametrize("name", ["job.toml", "suppliers.csv", "quotes/oddlode-2026-11-24.csv"])
def test_a_table_over_a_file_of_the_job_is_refused_before_anything_is_taken_in(run, sheet, folder, name):
    before = files_of(folder)
    code, out, err = run(sheet(PLAIN), "--accept", "--csv", folder / name)
    assert (code, out) == (2, "")
    assert "a file of the job itself" in " ".join(err.split())
    assert files_of(folder) == before


def test_a_neutralised_cell_comes_back_as_it_was(run, sheet, folder):
    run(sheet("Part,Condition,Price,Ref,Note\nFront brake disc,new,27.50,=Q1,@home\n"), "--accept")
    written = (folder / "quotes" / "oddlode-2026-11-24.csv").read_text(encoding="utf-8")
    assert "'=Q1" in written
    (quote,) = job_folder.job(folder, DAY).quotes
    assert (quote.ref, quote.note) == ("=Q1", "@home")


def test_every_option_that_a_mend_names_is_there():
    """The core's mends are the command line's words."""
    home = Path(quote_import.__file__).parent
    said = "\n".join(path.read_text(encoding="utf-8") for path in home.glob("*.py"))
    named = set(re.findall(r"--[a-z][a-z-]+", said)) - {"--"}
    options = {option for parameter in cli.program.commands["quotes"].params for option in parameter.opts}
    assert {"--ex-tax", "--decimal", "--supplier", "--condition"} <= named
    assert named <= options


def test_many_rows_are_cut_on_the_terminal_and_counted(run, sheet):
    lines = "".join(f"Front brake disc,new,{n}.00,R{n}\n" for n in range(1, 101))
    code, out, _ = run(sheet("Part,Condition,Price,Ref\n" + lines))
    assert code == 0
    assert "and 40 more: --csv FILE or --json has them all" in out


def test_a_document_in_pieces_is_the_document():
    """Rows handed over one by one, nothing in it that steers a terminal."""
    rows = [{"ref": "\x7f\x1b", "price": "1.00", "near": []}, {"ref": "a", "price": None, "near": ["x", "y"]}]
    whole = {"format": 1, "job": {"title": "T"}, "none": {}, "files": [{"quotes": rows, "empty": []}, {"quotes": []}]}
    lazy = {**whole, "files": [{"quotes": iter(rows), "empty": iter(())}, {"quotes": iter(())}]}
    said = "".join(as_json.pieces(lazy))
    assert json.loads(said) == whole
    assert said.isascii()
    assert "\x7f" not in said
    assert max(map(len, said.splitlines())) < 60, "one row a line"


def test_the_table_is_never_written_over_a_sheet_and_not_while_anything_is_in_doubt(run, sheet, tmp_path):
    original = sheet(PLAIN)
    code, _, err = run(original, "--csv", original, "--accept")
    assert (code, original.read_bytes()) == (2, PLAIN.encode())
    assert "is one of the sheets to read" in err
    assert run(sheet(NET, "loft.csv"), "--csv", tmp_path / "out.csv")[0] == 2
    assert not (tmp_path / "out.csv").exists()


MISREADINGS = {
    "an amount of tax beside a price each": ("price each,VAT amount,pack", "10.00,2.00,4", "one piece or for the pack"),
    "pence behind pounds": ("price", "£12.50p", "cannot be read for certain"),
    "a footnote": ("price", "30²", "may be a footnote"),
    "a unit that nobody can count": ("unit,price", "box,20.00", 'a pack of "box"'),
}


@pytest.mark.parametrize("name", MISREADINGS)
def test_what_may_mean_two_things_is_set_aside(run, sheet, name):
    headings, cells, reason = MISREADINGS[name]
    code, out, _ = run(sheet(f"part,{headings}\nfront-disc,{cells}\nrear-shoe,{cells}\n"), "--condition", "new")
    assert code == 2
    assert reason in " ".join(out.split())


@pytest.mark.parametrize(
    ("headings", "cells", "price", "pack"),
    [
        ("unit,price", "pair,10.00", 1000, 2),
        ("UOM,price", "ea,10.00", 1000, 1),
        ("per,price", "100,10.00", 1000, 100),
        ("unit,price", "pcs,10.00", 1000, 1),
    ],
)
def test_what_a_price_is_for_in_a_column_of_its_own(run, sheet, folder, headings, cells, price, pack):
    assert run(sheet(f"part,{headings}\nfront-disc,{cells}\n"), "--condition", "new", "--accept")[0] == 0
    (quote,) = job_folder.job(folder, DAY).quotes
    assert (quote.price_minor, quote.pack) == (price, pack)


@pytest.mark.parametrize("cells", [("1000,20", "1500,0"), ("40,0.2", "30,0"), ("40,0.2", "30,0.2", "20,0.05")])
def test_a_column_called_vat_that_may_be_a_rate_or_an_amount_is_a_doubt(run, sheet, cells):
    rows = "".join(f"front-disc,{each}\n" for each in cells)
    code, _, err = run(sheet(f"part,price,VAT\n{rows}"), "--condition", "new")
    assert code == 2
    assert '--map "VAT=tax_rate"' in err


@pytest.mark.parametrize("line", ["Prices are not VAT inclusive", "All net of VAT", "Prices do not include VAT"])
def test_a_line_that_denies_the_tax_makes_it_a_doubt(run, sheet, line):
    code, _, err = run(sheet(f"{line}\npart,price\nfront-disc,40\n"), "--condition", "new")
    assert code == 2
    assert "--ex-tax 20" in err


def test_what_it_is_not_is_no_condition(run, sheet):
    code, out, _ = run(sheet("part,condition,price\nfront-disc,not new,9\n"))
    assert code == 2
    assert "0 quotes understood, 1 row set aside" in out


def test_rows_below_other_headings_are_never_read_by_those_above(run, sheet):
    text = "part,price,deposit\nfront-disc,10,2\npart,deposit,price\nrear-shoe,3,20\n"
    code, out, err = run(sheet(text), "--condition", "new", "--all")
    assert code == 2
    assert "1 quote understood" in out
    assert "it stands below other headings, those of row 3" in " ".join(out.split())
    assert "put what stands below it into a sheet of its own" in err


LINES = {
    "Prices in EUR": "prices in GBP",
    "Prices per 100": "how many pieces a price is for",
    "10% off everything this week": "prices with every discount taken off",
}


@pytest.mark.parametrize("line", LINES)
def test_a_line_about_all_prices_that_nobody_but_a_person_can_settle(run, sheet, line):
    code, _, err = run(sheet(f"{line}\npart,price\nfront-disc,40\n"), "--condition", "new")
    assert code == 2
    assert LINES[line] in err
    for innocent in ("Prices in GBP", "Prices as in the spring list", "Delivery in 10 days"):
        assert run(sheet(f"{innocent}\npart,price\nfront-disc,40\n"), "--condition", "new")[0] == 0


def test_a_condition_on_a_line_of_its_own_holds_for_the_rows_below(run, sheet, folder):
    text = "part,price\nNEW\nfront-disc,40\nUSED\nrear-shoe,9\n"
    code, out, _ = run(sheet(text), "--accept", "--all")
    assert code == 0
    assert "the rows below it are taken as salvage" in " ".join(out.split())
    assert [quote.condition for quote in job_folder.job(folder, DAY).quotes] == ["new", "salvage"]


SHOWN = {
    '0.00"p"': (4000, 4000, 1),
    '0.00" /pr"': (10, 1000, 2),
    '"£"0.00" each"': (10, 1000, 1),
    "0.00": (10, 1000, 1),
}


@pytest.mark.parametrize("shown", SHOWN)
def test_a_number_is_read_as_the_workbook_shows_it(run, sheet, folder, shown):
    number, price, pack = SHOWN[shown]
    content = io.BytesIO()
    with xlsxwriter.Workbook(content) as book:
        page = book.add_worksheet()
        for place, heading in enumerate(("part", "price")):
            page.write_string(0, place, heading)
        page.write_string(1, 0, "front-disc")
        page.write_number(1, 1, number, book.add_format({"num_format": shown}))
    assert run(sheet(content.getvalue(), "s.xlsx"), "--condition", "new", "--supplier", "oddlode", "--accept")[0] == 0
    (quote,) = job_folder.job(folder, DAY).quotes
    assert (quote.price_minor, quote.pack) == (price, pack)


def test_doubts_come_first_and_a_quote_is_one_line(run, sheet):
    head = "Part,Condition,Price inc VAT,Core,Pack,Stock\n"
    text = f"{head}Front brake disc,new,27.50,5.00,1,0\nRear brake shoe,recon,30,,4,\n"
    code, out, err = run(sheet(text))
    assert (code, err) == (0, "")
    lines = [line.rstrip() for line in out.splitlines()]
    assert "oddlode.csv: 2 quotes understood from oddlode" in lines
    assert any(
        re.fullmatch(r"\s+2\s+Front brake disc\s+new\s+deposit 5.00, out of stock\s+27.50", line) for line in lines
    )
    assert any(re.fullmatch(r"\s+3\s+Rear brake shoe\s+refurbished\s+4 in the pack\s+30.00", line) for line in lines)
    assert "Their headings" not in out
    assert "Say --all for their headings" in out
    assert max(map(len, lines)) <= 80
    full = run(sheet(text), "--all")[1]
    assert "Their headings" in full
    assert "Say --all" not in full


def test_of_a_catalogue_the_nearest_names_are_shown_and_the_rest_is_counted(run, sheet):
    """Own count: ten of the twelve names with "brake disc" in them, and 500 others with the two that are left."""
    rows = [f"Front brake disc variant {letter},new,{10 + place}.00" for place, letter in enumerate("bcdefghjkmnp")]
    rows += [f"Garden gnome {place},new,1.00" for place in range(500)]
    _, out, _ = run(sheet("Part,Condition,Price inc VAT\n" + "\n".join(rows) + "\n"))
    near = out[out.index("near to Front brake disc") : out.index("If one of them")]
    assert near.count("Front brake disc variant") == 10
    assert "gnome" not in out
    assert "Set aside and not shown: 502 with names that are no part of the job." in " ".join(out.split())
    assert '--part "Front brake disc variant b=front-disc"' in " ".join(out.split())


def test_two_shops_with_a_file_of_one_name_are_told_apart(run, sheet, folder):
    first = sheet(
        "Part,Condition,Price inc VAT\nFront brake disc,new,27.50\nRear brake shoe,new,9.00\n", "oddments.csv"
    )
    assert run(first, "--accept")[0] == 0
    second = sheet("Part,Condition,Price inc VAT\nFront brake disc,new,31.00\n", "oddments.csv")
    code, _, err = run(second, "--accept")
    assert code == 2
    assert "if it is the same shop, --supplier oddments; if not, --supplier THEIR-NAME" in " ".join(err.split())
    assert run(second, "--supplier", "loft", "--accept")[0] == 0
    standing = [q for q in job_folder.job(folder, DAY).quotes if not lapsed(q)]
    assert sorted((q.supplier, q.part, q.price_minor) for q in standing) == [
        ("loft", "front-disc", 3100), ("oddments", "front-disc", 2750), ("oddments", "rear-shoe", 900),
    ]  # fmt: skip


def test_a_newer_sheet_of_the_same_shop_takes_the_place_of_the_older_one_once_that_is_said(run, sheet, folder):
    run(sheet("Part,Condition,Price inc VAT\nFront brake disc,new,27.50\n", "oddments.csv"), "--accept")
    newer = sheet("Part,Condition,Price inc VAT\nFront brake disc,new,31.00\n", "oddments.csv")
    assert run(newer, "--supplier", "oddments", "--accept")[0] == 0
    standing = [q.price_minor for q in job_folder.job(folder, DAY).quotes if not lapsed(q)]
    assert standing == [3100]


@pytest.mark.parametrize("columns", [40, 50, 60, 80, 96, 120])
def test_money_is_never_cut_however_narrow_the_screen(run, sheet, monkeypatch, columns):
    monkeypatch.setenv("COLUMNS", str(columns))
    text = (
        "Part,Supplier,Condition,Price inc VAT,Core,Stock,Valid until\n"
        "Front brake disc,Quillfeather Motor Factors of Lower Wick,New,10270.50,,,2026-11-01\n"
        "Rear brake shoe,Mossback Yard,Recon,1030.00,125.00,0,\n"
    )
    code, out, _ = run(sheet(text))
    assert code == 0
    flat = " ".join(out.split())
    for said in ("10270.50", "1030.00", "125.00", "2026-11-01", "Front brake disc"):
        assert said in flat
    assert max(map(len, out.splitlines())) <= columns
