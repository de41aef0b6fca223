"""Units below the headings, footnotes to prices, sentences in lines, rows that go on about the part above."""

from __future__ import annotations

from itertools import product

import pytest

from optimiser.model.quotes import Condition
from optimiser.money import Currency
from optimiser.quote_import import Told, Understood, heeding
from optimiser.quote_import.headings import meaning

ROWS = "Part,Condition,Price inc VAT\nFront disc,new,40.00\n"
COINS = {"pence": "4000", "in pence": "4000", "£": "40.00", "GBP": "40.00", "": "40.00"}
TIMES = {"weeks": ("2", 14), "(weeks)": ("2", 14), "days": ("14", 14), "": ("14", 14)}
COUNTS = ("pcs", "no.", "")


def _asked(understood: Understood) -> list[tuple[str, str]]:
    return [(problem.key, problem.found) for problem in understood.doubts]


@pytest.mark.parametrize(("coin", "time", "count"), list(product(COINS, TIMES, COUNTS)))
def test_units_below_the_headings_say_how_much_the_figures_are(taken, coin, time, count):
    days, expected = TIMES[time]
    units, row = f",{coin},,{time},{count}", f"Front disc,{COINS[coin]},new,{days},6"
    understood = taken(f"Part,Price inc VAT,Condition,Lead time,Stock\n{units}\n{row}\n")
    assert understood.doubts == ()
    assert [(row.price_minor, row.lead_days, row.stock) for row in understood.rows] == [(4000, expected, 6)]


def test_units_count_below_a_heading_that_a_person_told(taken):
    sheet = "Part,Condition,Ours\n,,pence\nFront disc,new,4000\n"
    assert [row.price_minor for row in taken(sheet, Told(columns={"Ours": "price"})).rows] == [4000]


def test_a_line_that_is_no_unit_is_no_heading(taken):
    understood = taken("Part,Condition,Price inc VAT\n,,plus fitting\nFront disc,new,40.00\n")
    assert understood.rows[0].row == 3
    assert understood.headings[2].place == "row 1"


@pytest.mark.parametrize("mark", ["(1)", "[a]", "\N{DAGGER}", "*", "**", "\N{SECTION SIGN}"])
def test_a_footnote_to_a_price_is_asked_about_whatever_it_says(taken, mark):
    sheet = f"Part,Condition,Price inc VAT\nFront disc,new,40.00{mark}\nStarter motor,used,30.00\n{mark} fitted\n"
    assert _asked(taken(sheet)) == [("money", '"fitted"')]
    settled = taken(sheet, Told(words={"fitted": "ignore"}))
    assert settled.doubts == ()
    assert [row.price_minor for row in settled.rows] == [4000, 3000]


def test_a_star_before_every_name_is_no_footnote(taken):
    assert taken("Part,Condition,Price inc VAT\n* Front disc,new,40.00\n* Our best\n").doubts == ()


@pytest.mark.parametrize(
    ("cell", "proposed"),
    [("1 12.50", "112.50"), ("9 8,00", "98.00"), ("4l.00", ""), ("12 50", ""), ("40 ono", "40"), ("2.70 10+", "2.70")],
)
def test_what_is_proposed_for_a_misread_amount_has_all_its_figures(taken, cell, proposed):
    (problem,) = taken(f'Part,Condition,Price inc VAT\nFront disc,new,"{cell}"\n').doubts
    paid = f'if you will pay that, --word "{cell}={proposed}"'
    assert problem.mend.startswith(paid if proposed else f'leave such rows out: --word "{cell}=not on offer"')


@pytest.mark.parametrize(
    ("cell", "proposed"),
    [("450 in pence", "4.50"), ("about 450p", "4.50"), ("450p or 500p", ""), ("4.50 in pence", ""), ("£4 and 50p", "")],
)
def test_an_amount_that_says_that_it_is_in_pence_is_proposed_in_the_currency(taken, cell, proposed):
    sheet = f'Part,Condition,Price inc VAT\nFront disc,new,"{cell}"\n'
    (problem,) = taken(sheet).doubts
    paid = f'if you will pay that, --word "{cell}={proposed}"'
    assert problem.mend.startswith(paid if proposed else f'leave such rows out: --word "{cell}=not on offer"')
    if proposed:
        told = taken(sheet, Told(words={cell: proposed}))
        assert (told.doubts, [row.price_minor for row in told.rows]) == ((), [450])


def test_a_row_marked_in_a_column_left_out_is_settled_by_the_printed_word(taken):
    sheet = "Gone,Part,Condition,Price inc VAT\nx,Front disc,new,40.00\n,Starter motor,used,30.00\n"
    assert _asked(taken(sheet)) == [("sale", '"x" under "Gone", which is left out')]
    settled = taken(sheet, Told(words={"x": "not on offer"}))
    assert settled.doubts == ()
    assert [row.part for row in settled.rows] == ["starter-motor"]


def test_sentences_of_a_line_are_asked_about_each_by_itself(taken):
    understood = taken(f"{ROWS}Valid 14 days. Delivery £6.\n")
    assert _asked(understood) == [("valid", '"Valid 14 days."'), ("postage", '"Delivery £6."')]


@pytest.mark.parametrize("name", ["with pulley", "without pulley", "ditto with pulley", "ohne Kabel"])
def test_a_priced_row_that_goes_on_about_the_one_above_is_asked_about(taken, name):
    sheet = f"Part,Condition,Price inc VAT\nStarter motor,used,30.00\n{name},used,35.00\n"
    (problem,) = taken(sheet).doubts
    assert f'--word "{name}=as above"' in problem.mend
    told = taken(sheet, Told(words={name: "as above"}))
    assert told.doubts == ()
    assert [row.price_minor for row in told.rows] == [3000, 3500]


@pytest.mark.parametrize(
    ("line", "state", "is_settled"),
    [("We are not VAT registered", "new", True), ("Keine Umsatzsteuer nach § 19 UStG", "new", True),
     ("No VAT is charged on used parts", "used", True), ("No VAT is charged on used parts", "new", False),
     ("Some parts: no VAT is charged", "new", False), ("No VAT is charged except on new parts", "used", False),
     ("Sold under the VAT margin scheme", "used", True), ("Sold under the VAT margin scheme", "new", False),
     ("Differenzbesteuert, MwSt. nicht ausweisbar", "used", True), ("Not under the VAT margin scheme", "used", False),
     ("Some under the VAT margin scheme", "used", False), ("VAT margin scheme, otherwise plus VAT", "used", False)],
)  # fmt: skip
def test_nothing_is_added_where_a_line_says_so_of_all(taken, line: str, state: Condition, is_settled: bool):
    told = Told(words={"prices without a currency": "GBP"})
    understood = taken(f"{line}\nPart,Condition,Price\nFront disc,{state},40.00\n", told)
    assert (understood.doubts == ()) is is_settled
    assert [row.price_minor for row in understood.rows] == [4000]


@pytest.mark.parametrize(
    ("heading", "column"),
    [("Surcharge", "deposit"), ("Surcharge inc VAT", "deposit"), ("Surcharge incl.", ""), ("incl. Pfand", "")],
)
def test_a_deposit_that_is_in_the_price_is_none_on_top(heading, column):
    assert meaning(heading, Currency.of("GBP")).column == column


def test_an_exchange_price_is_the_price_where_a_deposit_stands_beside_it(taken):
    (row,) = taken("Part,Condition,Exchange price,Core charge\nStarter motor,recon,90.00,25.00\n").rows
    assert (row.price_minor, row.deposit_minor) == (9000, 2500)
    assert _asked(taken("Part,Condition,Exchange price\nStarter motor,recon,90.00\n")) == [("price", "no such column")]


@pytest.mark.parametrize("line", ["Price list page 1 of 2", "Preise Seite 2", "Priser side 1 af 3"])
def test_the_number_of_a_page_is_passed_over(line):
    assert heeding.kind(line) == ""


@pytest.mark.parametrize("line", ["Guide prices only", "These are export prices", "Prices for account customers"])
def test_prices_that_may_not_be_those_to_pay_are_heeded(line):
    assert heeding.kind(line) == "money"


def test_sentences_in_one_column_are_refused_with_what_to_do(refused):
    problem = refused("Kelder Motor Spares\nStarter motor used £30 or recon £75\n")
    assert problem.mend == "type its prices into a sheet with the columns part, condition, price"


def test_an_amount_behind_a_stroke_is_no_date():
    assert [heeding.kind(text) for text in ("10/27.00", "10/27/2026", "10.11.26")] == ["money", "", ""]


def test_a_condition_told_for_the_rest_leaves_what_a_list_says_itself(taken):
    sheet = "Kelder Motor Spares\nStarter motor: £30 new\nFront disc: £20\n"
    rows = taken(sheet, Told(condition="salvage"), "kelder.txt").rows
    assert [(row.part, row.condition) for row in rows] == [("starter-motor", "new"), ("front-disc", "salvage")]


@pytest.mark.parametrize(("said", "pack"), [("the pair, new", 2), ("each, new", 1), ("new", 1)])
def test_what_a_typed_price_is_for_stands_before_its_condition(taken, said, pack):
    (row, _) = taken(f"Kelder Motor Spares\nFront discs: £70 {said}\nStarter motor: £30 used\n", name="kelder.txt").rows
    assert (row.price_minor, row.pack, row.condition) == (7000, pack, "new")


def test_no_price_is_proposed_for_a_cell_that_names_a_condition_too(taken):
    problems = taken("Part,Condition,Price\nFront disc,used,£45 used or £80 recon\n").doubts
    assert [problem.mend.partition(":")[0] for problem in problems] == ["leave such rows out"]


@pytest.mark.parametrize(
    ("line", "condition"),
    [
        ("All stock is new", "new"),
        ("Brand new pattern parts", "new"),
        ("Towar fabrycznie nowy", "new"),
        ("All of these are used, off a 2011 van", "salvage"),
        ("New stock", None),
    ],
)
def test_a_line_that_gives_all_parts_their_condition_is_followed_or_said_to_be_one(taken, line, condition):
    sheet = f"{line}\nPart,Price inc VAT\nFront disc,40.00\n"
    understood = taken(sheet)
    assert [row.condition for row in understood.rows] == [condition] * bool(condition)
    if condition is None:
        assert [problem.mend.count(f'--word "{line}=all new"') for problem in understood.doubts] == [1]
        assert [row.condition for row in taken(sheet, Told(words={line: "all new"})).rows] == ["new"]


@pytest.mark.parametrize(
    ("heading", "per", "row", "minor"),
    [
        ("Price per 100", "", "box of 20", 800),
        ("Price", "Price per", "box of 20,100", 800),
        ("Price", "Price per", "4,1", 16000),
    ],
)
def test_a_price_for_more_or_less_than_a_pack_is_worked_out_for_the_pack(taken, heading, per, row, minor):
    headings = f"Part,Condition,{heading} inc VAT,Pack{',' + per if per else ''}"
    (quote,) = taken(f"{headings}\nSold in full packs only\nFront disc,new,40.00,{row}\n").rows
    assert (quote.price_minor, quote.pack) == (minor, 4 if row == "4,1" else 20)


def test_a_row_that_is_sold_is_left_out(taken):
    understood = taken(
        "Part,Condition,Price inc VAT,Status\nFront disc,used,40,SOLD\nStarter motor,used,30,Available\n"
    )
    assert ([row.part for row in understood.rows], understood.doubts) == (["starter-motor"], ())


def test_a_remark_gives_its_row_a_last_day_by_the_printed_word(taken):
    sheet = "Part,Condition,Price inc VAT,Remarks\nFront disc,new,40.00,held till Friday\n"
    (doubt,) = taken(sheet).doubts
    assert '--word "held till Friday=valid until 2026-12-31"' in doubt.mend
    settled = taken(sheet, Told(words={"held till Friday": "valid until 2026-12-31"}))
    assert (str(settled.rows[0].valid_until), settled.doubts) == ("2026-12-31", ())


@pytest.mark.parametrize(
    ("headings", "expected"),
    [
        ("Price inc VAT and surcharge,Surcharge", [(6500, 2500)]),
        ("Price including core,Core charge", [(6500, 2500)]),
        ("Price inc VAT,Surcharge included in the price", [(6500, 2500)]),
        ("Price inc VAT,Surcharge", [(9000, 2500)]),
        ("Price with old unit,Surcharge", []),
        ("Price incl. surcharge,Colour", []),
    ],
)
def test_a_deposit_that_is_in_the_price_is_taken_out_of_it(taken, headings, expected):
    understood = taken(f"Part,Condition,{headings}\nStarter motor,recon,90.00,25.00\n")
    assert [(row.price_minor, row.deposit_minor) for row in understood.rows] == expected


def test_a_typed_list_with_strokes_for_decimals_is_read(taken):
    understood = taken("All parts used. Prices inc VAT.\nFront disc 350,-\nStarter motor 1.300,-\n")
    assert [(row.price_minor, row.condition) for row in understood.rows] == [(35000, "salvage"), (130000, "salvage")]


def test_a_part_again_with_more_of_it_for_less_each_is_a_pack(taken):
    rows = "Front disc,new,1,40.00\nFront disc,new,4,35.00\nStarter motor,new,1,90.00\n"
    understood = taken(f"Part,Condition,From qty,Price each inc VAT\n{rows}")
    assert [(row.pack, row.price_minor) for row in understood.rows] == [(1, 4000), (4, 14000), (1, 9000)]
    assert _asked(taken("Part,Condition,From qty,Price each inc VAT\nFront disc,new,4,35.00\n"))


@pytest.mark.parametrize(
    ("headings", "price", "line"),
    [
        ("Price ex VAT 25%", "40.00", ""),
        ("Price", "40.00 + VAT", "VAT rate: 25%"),
        ("Price (plus 25 % VAT)", "40.00", ""),
    ],
)
def test_the_rate_may_stand_in_the_heading_or_in_a_line_by_itself(taken, headings, price, line):
    understood = taken(f"Part,Condition,{headings}\nFront disc,new,{price}\n{line}\n")
    assert ([row.price_minor for row in understood.rows], understood.doubts) == ([5000], ())


def test_a_rate_by_itself_says_nothing_of_prices_that_say_nothing_of_the_tax(taken):
    assert [key for key, _ in _asked(taken("Part,Condition,Price\nFront disc,new,40.00\nVAT rate: 25%\n"))] == ["tax"]


def test_a_unit_price_is_that_of_the_unit_in_which_totals_are_counted(taken):
    rows = "Front disc,new,1,pair,14.00,14.00\nStarter motor,new,2,each,33.00,66.00\n"
    understood = taken(f"Part,Condition,Qty,Unit,Unit price,Total\n{rows}")
    assert [(row.price_minor, row.pack) for row in understood.rows] == [(1400, 2), (3300, 1)]
    (asked,) = _asked(taken("Part,Condition,Qty,Unit,Unit price,Total\nFront disc,new,20,box of 20,0.30,6.00\n"))
    assert asked[0] == "price"  # twenty boxes, or as many discs


def test_the_last_day_is_the_one_behind_the_word_for_it(taken):
    (row,) = taken("Quote of 2 Nov 2026, valid until 30 Nov 2026\nPart,Condition,Price\nFront disc,new,40.00\n").rows
    assert str(row.valid_until) == "2026-11-30"


def test_a_chat_in_cells_is_to_be_typed_off(refused):
    said = "2 Nov,09:14,me,do you have a starter?\n2 Nov,09:40,Yard,yes I do for 45\n"
    assert refused(said).found == "a chat"


@pytest.mark.parametrize(
    ("line", "heading", "read"),
    [("You can only buy whole bags.", "Bag holds", [(2800, 20)]), ("Full bags only", "Bag contents", [(2800, 20)]),
     ("You need not buy whole bags", "Bag holds", None), ("Sold loose as well", "Bag holds", None),
     ("Whole bags only", "Bag weight", None), ("Whole bags only", "Box holds", None)],
)  # fmt: skip
def test_a_price_for_a_hundred_is_worked_out_for_bags_that_are_sold_whole(taken, line, heading, read):
    sheet = f"All new. VAT is included.,,\n{line},,\nItem,Price per 100,{heading}\nFront brake disc,£140.00,20\n"
    understood = taken(sheet)
    if read is None:
        assert understood.doubts
    else:
        assert understood.doubts == ()
        assert [(row.price_minor, row.pack) for row in understood.rows] == read
