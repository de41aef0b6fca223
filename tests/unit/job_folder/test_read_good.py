"""What a sound job folder becomes: one tiny job in a dozen one-feature variants."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from optimiser.job_folder import package_data
from optimiser.money import PLACES

TINY = """
[money]
cap = "100.00"

[[fault]]
title = "Heater blower dead"
severity = "minor"
  [[fault.repair]]
  title = "Renew the motor"
  chance = 0.9
  price = "12.50"
"""
FULL = """
[job]
title = "Pebble"
currency = "GBP"
today = 2026-11-20
needed_by = "2026-12-20"
licensed = ["gas"]

[money]
cap = 1600.00
purchase = 1100
sale_as_it_stands = "1250.00"

[time]
hours = 24

[solve]
solver = "cbc"
seconds = 5.5

[[access]]
id = "dash-lower"
minutes = 45
price = "1.5"

[[part]]
id = "front-disc"
kind = "friction"
renew_in = 2

[[owned]]
part = "front-disc"
condition = "salvage"

[[fault]]
id = "blower"
severity = "dangerous"
causes = { fuse = 1, motor = 2.5 }
  [[fault.check]]
  id = "feed"
  minutes = 15
  access = ["dash-lower"]
  results = { spins = { fuse = 1.0, motor = 0.03, something-else = 0.5 } }
  [[fault.repair]]
  id = "motor"
  cures = { motor = 0.97, something-else = 0.1 }
  parts = { front-disc = 2, motor = 1.0 }
  access = ["dash-lower"]
"""
HEAD = "part,supplier,condition,price"


def test_the_shortest_job(good, tmp_path):
    job = good(TINY)
    (fault,) = job.faults
    (repair,) = fault.repairs
    assert (fault.id, repair.id) == ("heater-blower-dead", "renew-the-motor")
    assert (job.pot.cap_minor, repair.price_minor, repair.chance) == (10000, 1250, 0.9)
    assert job.settings.title == tmp_path.name
    assert job.settings.today == date(2026, 11, 24)
    assert (job.quotes, job.suppliers, job.access, job.owned) == ((), (), (), ())


def test_every_table(good):
    job = good(FULL)
    assert job.settings.title == "Pebble"
    assert (job.settings.today, job.settings.needed_by) == (date(2026, 11, 20), date(2026, 12, 20))
    assert (job.pot.cap_minor, job.pot.purchase_minor, job.pot.sale_as_it_stands_minor) == (160000, 110000, 125000)
    assert (job.time.minutes, job.solve.solver, job.solve.seconds) == (1440, "cbc", 5.5)
    assert (job.access[0].minutes, job.access[0].price_minor) == (45, 150)
    assert (job.parts[0].renew_in, job.parts[0].kind) == (2, "friction")
    assert job.owned[0].good_chance == package_data.conditions()["salvage"]
    (fault,) = job.faults
    assert fault.causes == {"fuse": 1, "motor": 2.5}
    assert fault.checks[0].results["spins"]["motor"] == 0.03
    assert fault.repairs[0].parts == {"front-disc": 2, "motor": 1}
    assert fault.repairs[0].cure("motor") == 0.97


@pytest.mark.parametrize(("written", "minor"), [("0.10", 10), ("0.29", 29), ('"0.29"', 29), ("1e1", 1000), ("7", 700)])
def test_decimals_are_exact(good, written, minor):
    assert good(TINY.replace('"12.50"', written)).faults[0].repairs[0].price_minor == minor


@pytest.mark.parametrize(
    ("currency", "cap", "minor"), [("JPY", "1600", 1600), ("KWD", "1.234", 1234), ("GBP", "1.2", 120)]
)
def test_amounts_are_in_the_currency_s_places(good, currency, cap, minor):
    job = good(f'job.currency = "{currency}"\n[money]\ncap = "{cap}"\n')
    assert job.pot.cap_minor == minor
    assert job.currency.places == PLACES[currency]


def test_a_cap_that_is_passed_is_no_problem_here(good):
    assert good('[money]\ncap = "10"\nspent = "12"\n').pot.remaining_minor == -200


def test_needed_by_before_today_is_no_problem_here(good):
    assert good("job.needed_by = 2020-01-01\n" + TINY).settings.needed_by == date(2020, 1, 1)


def test_a_part_that_nobody_offers_is_no_problem_here(good):
    job = good(TINY.replace("chance = 0.9", "chance = 0.9\nparts = { ghost = 1 }"))
    assert job.part("ghost").renew_in == 1


def test_a_piece_on_the_shelf_that_nothing_needs_is_no_problem(good):
    assert good(TINY + "[[owned]]\npart = 'wiper-blade'\ncondition = 'new'\n").owned[0].units == 1


def test_two_checks_may_have_results_of_the_same_names(good):
    check = '[[fault.check]]\nid = "{}"\nresults = {{ spins = {{ fuse = 1.0 }} }}\n'
    job = good(
        TINY.replace("[[fault.repair]]", check.format("a") + check.format("b") + "[[fault.repair]]").replace(
            "severity", "causes = { fuse = 1 }\nseverity"
        )
    )
    assert [each.id for each in job.faults[0].checks] == ["a", "b"]


@pytest.mark.parametrize("name", ["a b", 'the "old" one', "a,b", "ünï", "🚐", "'", "=cmd|' /C'!A0", "a-b", "a_b"])
def test_ids_are_free(good, name):
    quoted = name.replace("\\", "\\\\").replace('"', '\\"')
    cell = '"' + name.replace('"', '""') + '"'
    job = good(
        f'[money]\ncap = "1"\n[[part]]\nid = "{quoted}"\n',
        {"quotes.csv": f"{HEAD}\n{cell},{cell},new,1\n"},
    )
    assert (job.parts[0].id, job.quotes[0].part, job.quotes[0].supplier) == (name, name, name)


def test_carriage_returns_and_a_byte_order_mark(good):
    job = good(b"\xef\xbb\xbf" + TINY.replace("\n", "\r\n").encode())
    assert job.pot.cap_minor == 10000


def test_a_quote_with_every_column(good):
    head = f"{HEAD},pack,stock,good_chance,deposit,refund_share,lead_days,warranty_months,valid_until,currency,ref,note"
    row = 'disc,north,refurbished,12.50,2,3,0.5,4.5,0.25,6,12,2026-12-01,GBP,R1,"both, sides"'
    (quote,) = good("job.currency = 'GBP'\n" + TINY, {"quotes.csv": f"{head}\n{row}\n"}).quotes
    assert quote.model_dump(exclude={"came_from"}) == {
        "id": "quotes.csv:2", "part": "disc", "supplier": "north", "condition": "refurbished", "price_minor": 1250,
        "pack": 2, "stock": 3, "good_chance": 0.5, "deposit_minor": 450, "refund_share": 0.25, "lead_days": 6,
        "warranty_months": 12, "valid_until": date(2026, 12, 1), "ref": "R1", "note": "both, sides",
        "rough": False,
    }  # fmt: skip


def test_empty_cells_are_defaults(good):
    head = f"{HEAD},pack,stock,good_chance,deposit,refund_share,lead_days,warranty_months,valid_until,currency,ref,note"
    suppliers = "supplier,title,postage,free_over,minimum_order,lead_days,trip_minutes,note\nnorth,,4.5,,,7,,\n"
    job = good(TINY, {"quotes.csv": f"{head}\ndisc,north,salvage,1{',' * 11}\nd,south,new,1{',' * 11}\n",
                      "suppliers.csv": suppliers})  # fmt: skip
    first, second = job.quotes
    assert (first.pack, first.stock, first.deposit_minor, first.valid_until, first.note) == (1, None, 0, None, "")
    assert (first.good_chance, second.good_chance) == (
        package_data.conditions()["salvage"],
        package_data.conditions()["new"],
    )
    assert (first.lead_days, second.lead_days) == (7, 0)
    (north,) = job.suppliers
    assert (north.id, north.postage_minor, north.free_over_minor, north.lead_days) == ("north", 450, None, 7)


def test_a_quote_s_own_days_go_before_its_supplier_s(good):
    files = {"quotes.csv": f"{HEAD},lead_days\nd,north,new,1,0\n", "suppliers.csv": "supplier,lead_days\nnorth,7\n"}
    assert good(TINY, files).quotes[0].lead_days == 0


@pytest.mark.parametrize("backwards", [False, True])
def test_sheets_come_in_order_and_only_sheets(good, monkeypatch, backwards):
    # a file system lists a folder in whatever order it likes
    listing = Path.iterdir
    monkeypatch.setattr(Path, "iterdir", lambda path: iter(sorted(listing(path), reverse=backwards)))
    row = f"{HEAD}\nd,s,new,1\n"
    sheets = ["quotes/c.csv", "quotes/a.csv", "quotes/d.CSV", "quotes/b.csv", "quotes.csv"]
    others = dict.fromkeys(["quotes/read.txt", "quotes/.~lock.csv", "quotes/old/x.csv"], "no sheet")
    job = good(TINY, dict.fromkeys(sheets, row) | others)
    assert [quote.id for quote in job.quotes] == [f"{name}:2" for name in sorted(sheets)]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_a_quote_is_named_by_the_line_on_which_it_begins(good, end):
    lines = ["", f"{HEAD},note", "", 'a,s,new,1,"two', 'lines"', ",,,,", "b,s,new,2,", "", 'c,s,new,3,"x"', ""]
    job = good(TINY, {"quotes.csv": end.join(lines)})
    assert [(quote.part, quote.id) for quote in job.quotes] == [
        ("a", "quotes.csv:4"), ("b", "quotes.csv:7"), ("c", "quotes.csv:9"),
    ]  # fmt: skip
    assert job.quotes[0].note == f"two{end}lines"


def test_rows_that_are_alike_all_stay(good):
    assert len(good(TINY, {"quotes.csv": f"{HEAD}\n" + "a,s,new,1\n" * 3}).quotes) == 3


def test_formula_like_text_stays_as_it_is(good):
    (quote,) = good(TINY, {"quotes.csv": f'{HEAD},note\na,s,new,1,"=HYPERLINK(""x"")"\n'}).quotes
    assert quote.note == '=HYPERLINK("x")'


def test_a_sheet_with_a_header_alone_offers_nothing(good):
    assert good(TINY, {"quotes.csv": HEAD + "\n", "suppliers.csv": "supplier\n"}).quotes == ()


def test_columns_stand_in_any_order_with_a_byte_order_mark(good):
    (quote,) = good(TINY, {"quotes.csv": "\ufeffprice,condition,part,supplier\n1, new ,a,\tb\n"}).quotes
    assert (quote.part, quote.supplier, quote.condition, quote.price_minor) == ("a", "b", "new", 100)


def test_twins_with_odds_up_to_scale(good):
    fault = '[[fault]]\nid = "{}"\nseverity = "minor"\ntwin = "belts"\ncauses = {{ a = {}, b = {} }}\n'
    job = good('[money]\ncap = "1"\n' + fault.format("l", 1, 3) + fault.format("r", 0.5, 1.5))
    assert [each.twin for each in job.faults] == ["belts", "belts"]
