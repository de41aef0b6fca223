"""What the lots that were written blind taught: each rule by sheets of its own."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.sheets import corpus
from tests.sheets.corpus import Sheet

NAMED = "Supplier: Mossback Yard\n"


def keys(text: str, folder: Path, **more: object) -> list[str]:
    """What is asked about a sheet."""
    return [problem.key for problem in corpus.read(made(text, **more), folder)[1]]


def rows(text: str, folder: Path, **more: object) -> list[str]:
    """The quotes of a sheet about which nothing is asked: part, condition, price, pack, deposit."""
    understood, problems = corpus.read(made(text, **more), folder)
    assert problems == ()
    assert understood is not None
    return [" ".join(corpus.line(row).split()[i] for i in (0, 2, 3, 4, 5)) for row in understood.rows]


def made(text: str, **more: object) -> Sheet:
    return Sheet("made", "mossback.csv", text, asks="x", **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("heading", ["VPE", "Ilość w opakowaniu", "Carton qty"])
def test_a_bare_price_beside_a_packing_unit_may_be_that_of_a_piece(heading: str, tmp_path: Path):
    of_packing = f"{NAMED}Part;Condition;{heading};Price inc VAT\nSpark plug;new;{{}};9.60\n"
    assert keys(of_packing.format(4), tmp_path) == ["price"]
    assert rows(of_packing.format(1), tmp_path) == ["spark-plug new 960 1 0"]
    told = of_packing.format(4).replace("Price inc", "Price per pack inc")
    assert rows(told, tmp_path) == ["spark-plug new 960 4 0"]


@pytest.mark.parametrize("line", ["Trade price list", "Händlerpreise", "Tarif revendeurs"])
def test_prices_for_the_trade_of_whose_tax_nothing_is_said_are_asked_about(line: str, tmp_path: Path):
    text = f"{NAMED}{line}, all parts new\nPart;Price{{}}\nSpark plug;9.60\n"
    assert keys(text.format(""), tmp_path) == ["tax"]
    assert rows(text.format(" inc VAT"), tmp_path) == ["spark-plug new 960 1 0"]


@pytest.mark.parametrize(
    ("name", "asked"),
    [
        ("front pad", True),
        ("Frt pads", True),
        ("pads", True),
        ("rear pads", False),
        ("front", False),
        ("gasket", False),
    ],
)
def test_a_name_of_some_words_of_a_part_is_asked_about(name: str, asked: bool, tmp_path: Path):
    text = f"{NAMED}Part,Condition,Price inc VAT\nAlternator,used,40\n{name},new,20\n"
    job = {"brake-pads": "Brake pads front", "alternator": "Alternator"}
    assert keys(text, tmp_path, job=job) == ["part"] * asked


def test_a_word_of_several_parts_stands_for_none(tmp_path: Path):
    text = f"{NAMED}Part,Condition,Price inc VAT\nAlternator,used,40\nmotor,new,20\n"
    assert rows(text, tmp_path) == ["alternator salvage 4000 1 0"]


def test_what_is_struck_out_in_plain_text_is_no_price_and_a_row_struck_out_is_asked_about(tmp_path: Path):
    text = f"{NAMED}Part,Condition,Price inc VAT\n{{}},used,{{}}\n"
    assert rows(text.format("Alternator", "~~£40~~ £30"), tmp_path) == ["alternator salvage 3000 1 0"]
    assert keys(text.format("~~Alternator~~", "£40"), tmp_path) == ["field"]


@pytest.mark.parametrize(("tax", "kept"), [("12.40", True), ("9.99", False)])
def test_a_total_told_in_words_proves_the_tax_in_the_prices(tax: str, kept: bool, tmp_path: Path):
    text = f"{NAMED}Qty,Total,Part,Condition,Each\n1,£46.00,Door mirror offside,new,£46.00\n"
    text += f"10,£28.40,Wheel bolt,new,£2.84\n,£74.40,Total paid including £{tax} VAT,,\n"
    if kept:
        assert rows(text, tmp_path) == ["door-mirror-right new 4600 1 0", "wheel-bolt new 284 1 0"]
    else:
        assert keys(text, tmp_path) == ["tax"]


def test_codes_for_the_tax_are_read_by_the_lines_that_explain_them(tmp_path: Path):
    text = f"{NAMED}Part,Condition,Price,VAT code\nAlternator,used,40,M\nStarter motor,used,35,S\n\n{{}}\n"
    both = text.format("S = VAT at 20% is added to the price\nM = margin scheme: no VAT is added")
    assert rows(both, tmp_path) == ["alternator salvage 4000 1 0", "starter-motor salvage 4200 1 0"]
    two_rates = text.format("S = VAT at 20% is added to the price\nM = VAT at 5% is added to the price")
    assert "tax" in keys(two_rates, tmp_path)


def test_the_pieces_are_counted_by_the_column_that_counts_them(tmp_path: Path):
    text = f"{NAMED}Part,Condition,Unit of sale,Contents,Price inc VAT\n"
    text += "Wheel bolt,new,box,100,95\nSpark plug,new,each,1,3\n"
    assert rows(text, tmp_path) == ["wheel-bolt new 9500 100 0", "spark-plug new 300 1 0"]


def test_a_price_under_a_heading_of_its_own_follows_from_the_list_price_and_the_discount(tmp_path: Path):
    text = f"{NAMED}Part,Condition,List £,Disc %,Your net £\nSpark plug,new,5.00,30,{{}}\nWheel bolt,new,2.00,20,1.60\n"
    mended = f"{text}VAT at 20% to be added\n"
    assert rows(mended.format("3.50"), tmp_path) == ["spark-plug new 420 1 0", "wheel-bolt new 192 1 0"]
    assert "price" in keys(mended.format("3.40"), tmp_path)


@pytest.mark.parametrize(
    "heading", ["Old unit deposit (added to the price, refunded on return)", "Consigne TTC (en sus du prix)"]
)
def test_a_deposit_that_is_added_to_the_price_is_one(heading: str, tmp_path: Path):
    text = f"{NAMED}Part;Condition;Price inc VAT;{heading}\nAlternator;rebuilt;88;18\n"
    assert rows(text, tmp_path, currency="EUR") == ["alternator refurbished 8800 1 1800"]


@pytest.mark.parametrize(
    ("line", "asked"),
    [
        ("Prices are what you pay, VAT is in them", []),
        ("Price list, winter 2026/27", []),
        ("Price list for account 44710", []),
        ("Prices on account 5% less", ["discount"]),
        ("No tax on cores", ["tax"]),
        ("We quote in euros or in pounds, see your account", ["currency"]),
    ],
)
def test_lines_around_the_rows(line: str, asked: list[str], tmp_path: Path):
    assert keys(f"{NAMED}{line}\nPart;Condition;Price\nAlternator;used;40\n", tmp_path) == asked


def test_that_deposits_bear_no_tax_says_nothing_new_beside_their_column(tmp_path: Path):
    text = f"{NAMED}No tax on cores\nPart;Condition;Price inc VAT;Core\nAlternator;rebuilt;88;18\n"
    assert rows(text, tmp_path) == ["alternator refurbished 8800 1 1800"]


@pytest.mark.parametrize(
    ("line", "asked"),
    [("Packs for the home mechanic", []), ("Packs sold in pairs", ["pack"]), ("Packs of ten", ["pack"])],
)
def test_a_line_about_packs_says_nothing_new_beside_their_column(line: str, asked: list[str], tmp_path: Path):
    text = f"{NAMED}{line}\nPart;Condition;Pieces in pack;Price per pack inc VAT\nSpark plug;new;4;11.80\n"
    assert keys(text, tmp_path) == asked


@pytest.mark.parametrize("line", ["Prijzen per stuk in euro", "All prices are per piece", "priced each"])
def test_that_prices_are_for_a_piece_says_nothing_new(line: str, tmp_path: Path):
    text = f"{NAMED}{line}\nPart;Condition;Price inc VAT\nSpark plug;new;2.80\n"
    assert keys(text, tmp_path, currency="EUR") == []


def test_a_section_may_say_its_condition_twice(tmp_path: Path):
    text = f"{NAMED}Prices include VAT\nPart,Price\nUSED - OFF THE VEHICLE\nAlternator,£38\n"
    text += "BRAND NEW - STILL BOXED\nSpark plug,£3\n"
    assert rows(text, tmp_path) == ["alternator salvage 3800 1 0", "spark-plug new 300 1 0"]


def test_generator_is_no_doubt_where_crowns_are_paid_and_a_seller_may_be_private(tmp_path: Path):
    text = "Säljare: Torvald Ekmyr (privatperson)\nBegagnade delar\n\nGenerator: 400 kr\nHöger ytterspegel: 300 kr\n"
    assert rows(text, tmp_path, currency="SEK") == [
        "alternator salvage 40000 1 0",
        "door-mirror-right salvage 30000 1 0",
    ]


def test_a_comma_before_decimals_parts_no_cells_between_semicolons(tmp_path: Path):
    text = (
        "Altozano\nTodo nuevo, IVA incluido\n\nDescripción;Tarifa A;Tarifa B\nBujía;4,10;3,55\nAlternador;40,50;39,00\n"
    )
    understood, problems = corpus.read(made(text, currency="EUR"), tmp_path)
    assert understood is None
    assert '--map "Tarifa A=price"' in problems[0].mend


def test_conditions_are_read_by_a_key_in_one_line(tmp_path: Path):
    text = f"{NAMED}Part,Cond,Price inc VAT\nAlternator,R,99\nHeater motor,U,28\nWiper blade,N,8.25\n\n{{}}\n"
    key = "N = new; R = reconditioned; U = used"
    quotes = ["alternator refurbished 9900 1 0", "heater-motor salvage 2800 1 0", "wiper-blade new 825 1 0"]
    assert rows(text.format(key), tmp_path) == quotes
    assert "condition" in keys(text.format("Thank you; call again"), tmp_path)


def test_a_price_after_discount_is_the_price_and_its_discount_says_nothing_new(tmp_path: Path):
    text = f"{NAMED}Artikel;Zustand;Einzelpreis netto;Rabatt;{{}} (inkl. 19 % MwSt.)\nZündkerze;neu;12,50;20 %;11,90\n"
    told = text.format("Einzelpreis brutto nach Rabatt")
    assert rows(told, tmp_path, currency="EUR") == ["spark-plug new 1190 1 0"]
    assert keys(text.format("Einzelpreis brutto"), tmp_path, currency="EUR") == ["discount"]


def test_what_is_to_be_paid_beside_the_net_price_and_the_tax_is_the_price(tmp_path: Path):
    text = f"{NAMED}Descrizione;Stato;Imponibile;IVA 22%;Totale\nCandela;nuovo;5,00;1,10;6,10\n"
    text += "Alternatore;usato;30,00;6,60;{}\n"
    quotes = ["spark-plug new 610 1 0", "alternator salvage 3660 1 0"]
    assert rows(text.format("36,60"), tmp_path, currency="EUR") == quotes
    assert "price" in keys(text.format("35,60"), tmp_path, currency="EUR")


def test_a_line_may_say_that_prices_are_for_packs(tmp_path: Path):
    text = f"{NAMED}{{}}\nPart;Condition;Units per pack;Price inc VAT\nSpark plug;new;4;20\n"
    assert rows(text.format("Price per pack."), tmp_path) == ["spark-plug new 2000 4 0"]
    assert keys(text.format("Thank you."), tmp_path) == ["price"]


def test_the_tax_in_a_total_with_carriage_says_nothing_new(tmp_path: Path):
    text = f"{NAMED}Article;État;Quantité;Prix TTC;Total TTC\nAlternateur;neuf;1;94,70;94,70\nFrais de port;;;;6,90\n"
    text += "Total TTC;;;;101,60\ndont TVA 20 %;;;;{}\n"
    assert keys(text.format("16,93"), tmp_path, currency="EUR") == ["postage"]
    assert keys(text.format("12,93"), tmp_path, currency="EUR") == ["postage", "tax"]


@pytest.mark.parametrize(
    ("note", "asked"),
    [
        ("no old unit needed", []),
        ("old unit needed", ["deposit"]),
        ("your 10% club discount is already off these prices", []),
        ("10% club discount on these prices", ["discount"]),
        ("Quote Q-716, prices in pounds", []),
        ("Quote of 716 for prices", ["money"]),
    ],
)
def test_what_is_denied_done_or_numbered_is_not_asked_about(note: str, asked: list[str], tmp_path: Path):
    text = f"{NAMED}Part;Condition;Price inc VAT;Note\nAlternator;rebuilt;88;{note}\n"
    assert keys(text, tmp_path) == asked


def test_a_firm_with_which_a_sentence_begins_is_the_supplier_and_no_word_of_mails(tmp_path: Path):
    text = "{}all used, VAT in the price:\n\n| What | How much |\n|------|------|\n| Starter motor | £32 |\n"
    sheet = Sheet("made", "chat.md", text.format("Caddonfoot Van Dismantlers sent this, "), asks="x")
    understood, problems = corpus.read(sheet, tmp_path)
    assert problems == ()
    assert understood is not None
    assert [row.supplier for row in understood.rows] == ["caddonfoot-van-dismantlers"]
    unnamed = Sheet("made", "chat.md", text.format("This came today, "), asks="x")
    assert [problem.key for problem in corpus.read(unnamed, tmp_path)[1]] == ["supplier"]


def test_a_mail_with_a_price_in_each_line_is_a_list(tmp_path: Path):
    text = "Von: Mossback Yard\n\nAlle Preise inkl. MwSt., alles gebraucht:\n"
    text += "- Lichtmaschine, je 42,50 €\n- Anlasser, 64,00 €\n"
    sheet = Sheet("made", "Antwort.txt", text, asks="x", currency="EUR")
    understood, problems = corpus.read(sheet, tmp_path)
    assert problems == ()
    assert understood is not None
    assert [(row.part, row.price_minor) for row in understood.rows] == [("alternator", 4250), ("starter-motor", 6400)]


def test_sentences_parted_by_commas_are_no_headings(tmp_path: Path):
    text = f"{NAMED}Used parts, prices include VAT\n\nPart,Price\nAlternator,£30\n"
    assert rows(text, tmp_path) == ["alternator salvage 3000 1 0"]
    mail = f"{NAMED}All used, VAT included, and the discount is already off these prices.\n1) Alternator @ £30 each\n"
    assert rows(mail, tmp_path) == ["alternator salvage 3000 1 0"]


@pytest.mark.parametrize("line", ["Från: 1 nov 2026", "Da: 01/11/2026", "Van: white, 2006"])
def test_a_day_and_a_vehicle_behind_a_label_are_no_suppliers(line: str, tmp_path: Path):
    text = f"{line}\nPart;Condition;Price inc VAT\nAlternator;used;40\n"
    understood, _ = corpus.read(Sheet("made", "mossback.csv", text, asks="x", currency="EUR"), tmp_path)
    assert understood is not None
    assert [row.supplier for row in understood.rows] == ["mossback"]


@pytest.mark.parametrize(
    ("note", "asked"),
    [("no deposit is refunded", "deposit"), ("Special offer 450 for prices", "money"), ("Minimum order 500", "pack")],
)
def test_what_only_looks_denied_or_numbered_is_asked_about(note: str, asked: str, tmp_path: Path):
    assert keys(f"{NAMED}Part;Condition;Price inc VAT;Note\nAlternator;rebuilt;88;{note}\n", tmp_path) == [asked]


@pytest.mark.parametrize(
    ("line", "until"),
    [
        ("Quotation 30/11/2026 - valid 14 days", "2026-12-14"),
        ("Quotation 30/11/2026, valid for 14 days", "2026-12-14"),
        ("Quotation 30/12/9999, valid for 14 days", "9999-12-31"),  # the calendar ends before
        ("Quotation of 30/12/9999\nPrices valid for 14 days", "9999-12-31"),
        ("Valid 14 days from 30/11/2026", "2026-12-14"),
        ("Quote dated 30 Nov 2026 (valid 2 weeks)", "2026-12-14"),
        ("Quote of 30/11/2026 - delivery 3 days, 14 days valid", "2026-12-14"),
        ("Angebot vom 30.11.2026, gültig 14 Tage", "2026-12-14"),
        ("Valid until 30/11/2026, delivery 3 days", "2026-11-30"),
        ("Valid: 30/11/2026, delivery 3 days", "2026-11-30"),
        ("Valid 14 days, until 30/11/2026", "2026-11-30"),
    ],
)
def test_days_beside_a_date_run_from_it_unless_it_is_the_last(line: str, until: str, tmp_path: Path):
    text = f"{NAMED}{line}\nPart;Condition;Price inc VAT\nAlternator;used;40\n"
    understood, problems = corpus.read(made(text), tmp_path)
    assert problems == ()
    assert understood is not None
    assert [str(row.valid_until) for row in understood.rows] == [until]


MAIL = """From: Mossback Yard
Hi mate, all used, off a 2012 van, tested.

- alternator £15
- heater motor - 18 quid
- starter motor, good one, 40 quid
- spark plug, new in box, £5 each
- wiper blade £4, 2 left
No VAT on any of it, cash please, cheers
"""


def test_a_mail_of_lines_with_commas_is_not_cut_into_columns(tmp_path: Path):
    sheet = Sheet("made", "pasted.txt", MAIL, asks="x")
    understood, problems = corpus.read(sheet, tmp_path)
    assert problems == ()
    assert understood is not None
    assert [(row.part, row.condition, row.price_minor, row.stock) for row in understood.rows] == [
        ("alternator", "salvage", 1500, None),
        ("heater-motor", "salvage", 1800, None),
        ("starter-motor", "salvage", 4000, None),
        ("spark-plug", "new", 500, None),
        ("wiper-blade", "salvage", 400, 2),
    ]


@pytest.mark.parametrize(
    "tail", ["70 with pulley", "or £40 with the cable", "needs a clean", "plus returnable deposit"]
)
def test_what_is_said_behind_a_price_in_a_line_is_asked_about(tail: str, tmp_path: Path):
    text = f"From: Mossback Yard\nAll used, no VAT to add.\n\nAlternator £30\nStarter motor £25, {tail}\n"
    understood, problems = corpus.read(Sheet("made", "pasted.txt", text, asks="x"), tmp_path)
    assert len(problems) == 1
    assert understood is not None
    assert "alternator" in {row.part for row in understood.rows}


def test_an_offer_in_a_sentence_may_be_written_out(tmp_path: Path):
    text = "From: Mossback Yard\nAll used, no VAT to add.\n\nAlternator £30\nSpark plug £25, or £40 with the cable\n"
    (problem,) = corpus.read(Sheet("made", "pasted.txt", text, asks="x"), tmp_path)[1]
    assert "if it is an offer, write it as a name, a dash and one price: Name - £12.50" in problem.mend


def test_a_line_of_an_order_is_the_price_of_one_where_its_sum_proves_it(tmp_path: Path):
    text = "From: Mossback Yard\nAll new, VAT included.\n\n{}\n3 x Wiper blade @ £4.00 = £12.00\n"
    proven = Sheet("made", "order.txt", text.format("2 x Spark plug @ £3.50 = £7.00"), asks="x")
    understood, problems = corpus.read(proven, tmp_path)
    assert problems == ()
    assert understood is not None
    assert [(row.part, row.price_minor, row.pack) for row in understood.rows] == [
        ("spark-plug", 350, 1), ("wiper-blade", 400, 1),
    ]  # fmt: skip
    other = Sheet("made", "order.txt", text.format("2 x Spark plug @ £3.50 = £8.00"), asks="x")
    assert [problem.found for problem in corpus.read(other, tmp_path)[1]] == ['"2 x Spark plug @ £3.50 = £8.00"']


def test_so_many_of_a_price_are_the_total_though_it_is_called_net(tmp_path: Path):
    text = f"{NAMED}All new, VAT at 20% to be added\nQty;Part;Unit price;Net\n2;Spark plug;4;8\n1;Alternator;95;95\n"
    assert rows(text, tmp_path) == ["spark-plug new 480 1 0", "alternator new 11400 1 0"]


def test_a_price_and_its_deposit_summed_are_no_news(tmp_path: Path):
    text = f"{NAMED}Part;Condition;Price inc VAT;Surcharge;To pay\nAlternator;rebuilt;88;30;{{}}\n"
    assert rows(text.format(118), tmp_path) == ["alternator refurbished 8800 1 3000"]
    assert keys(text.format(120), tmp_path) == ["money"]


def test_pieces_that_are_sold_loose_are_priced_by_one(tmp_path: Path):
    text = f"{NAMED}{{}}\nPart;Condition;Per;Price inc VAT\nSpark plug;new;100;250\nWiper blade;new;1;4\n"
    loose = text.format("Any number is supplied loose.")
    assert rows(loose, tmp_path) == ["spark-plug new 250 1 0", "wiper-blade new 400 1 0"]
    assert rows(text.format("Prices as agreed."), tmp_path) == ["spark-plug new 25000 100 0", "wiper-blade new 400 1 0"]
    assert keys(text.format("Packs are not sold loose."), tmp_path) != []


@pytest.mark.parametrize(
    ("name", "title", "found"),
    [
        ("Thermostat + seal", "Thermostat with seal", "taken"),
        ("O2 sensor pre cat", "Oxygen sensor before catalyst", "taken"),
        ("Rear box c/w clamp", "Rear silencer", "asked"),
        ("Exh. gasket & clamp kit", "Exhaust joint kit", "asked"),
        ("Inside handle n/s rear", "Inner door handle, left rear", "asked"),
        ("Front pads, set", "Front brake pads (set)", "asked"),
    ],
)
def test_other_names_of_a_part_are_taken_or_asked_about_beside_rows_that_are_known(
    name: str, title: str, found: str, tmp_path: Path
):
    text = f'{NAMED}Part,Condition,Price inc VAT\nAlternator,used,40\n"{name}",new,20\n'
    sheet = made(text, job={"wanted": title, "alternator": "Alternator"})
    understood, problems = corpus.read(sheet, tmp_path)
    assert understood is not None
    assert ("wanted" in {row.part for row in understood.rows}, len(problems)) == (
        found == "taken",
        int(found == "asked"),
    )


@pytest.mark.parametrize(
    "line", ["Je vide le garage :", "Both came back to me, pasted below.", "Ämne: SV: Delar till bilen"]
)
def test_words_that_mean_something_else_in_a_sentence_are_no_doubt(line: str, tmp_path: Path):
    assert rows(f"{NAMED}{line}\nPart;Condition;Price inc VAT\nAlternator;used;40\n", tmp_path) == [
        "alternator salvage 4000 1 0"
    ]


def test_tax_that_is_added_where_it_applies_is_asked_about_beside_a_condition(tmp_path: Path):
    text = f"{NAMED}New parts, trade terms. VAT is added where applicable.\nPart;Price\nAlternator;130\n"
    assert keys(text, tmp_path) == ["tax"]


def test_tax_said_of_prices_and_deposits_alike_is_added_to_both(tmp_path: Path):
    text = f"{NAMED}Remanufactured units on exchange. {{}}\nPart;Price;Core charge\nAlternator;80;30\n"
    both = text.format("Prices and core charges are both plus VAT at 20%.")
    assert rows(both, tmp_path) == ["alternator refurbished 9600 1 3600"]
    prices_alone = text.format("Prices are plus VAT at 20%.")
    assert rows(prices_alone, tmp_path) == ["alternator refurbished 9600 1 3000"]


def test_a_column_for_the_tax_may_hold_words_with_a_rate(tmp_path: Path):
    text = f"{NAMED}Part;Condition;Price;VAT\nAlternator;rebuilt;75;plus 20%\nSpark plug;new;4;included\n"
    assert rows(text, tmp_path) == ["alternator refurbished 9000 1 0", "spark-plug new 400 1 0"]


def test_what_the_seller_paid_is_a_remark_and_sale_by_names_the_seller(tmp_path: Path):
    text = "For sale by Honor Pellingbrook, private seller, no VAT.\nFrom our old van.\n\n"
    text += "Alternator - used - £25 (cost me £70 last year)\nSpark plug - new - £3\n"
    sheet = Sheet("made", "van advert.txt", text, asks="x")
    understood, problems = corpus.read(sheet, tmp_path)
    assert [problem.found for problem in problems] == ['"(cost me £70 last year)"']
    assert understood is not None
    assert [(row.part, row.supplier, row.price_minor) for row in understood.rows] == [
        ("alternator", "honor-pellingbrook", 2500),
        ("spark-plug", "honor-pellingbrook", 300),
    ]


def test_what_a_part_is_called_is_sure_by_the_language_of_the_lines(tmp_path: Path):
    text = "Van: Mossback Yard\n{}\n\n- Dynamo: € 45,00\n- Startmotor: € 40,00\n"
    dutch = text.format("Gebruikte onderdelen, er komt geen btw meer bij.")
    understood, _ = corpus.read(Sheet("made", "antwoord.txt", dutch, asks="x", currency="EUR"), tmp_path)
    assert understood is not None
    assert [row.part for row in understood.rows] == ["alternator", "starter-motor"]


def test_a_list_of_one_line_with_a_number_in_brackets_is_asked_about(tmp_path: Path):
    text = "Seller: Ludo Tarrant-Hale\nPrivate, no VAT. All new.\n\nSpark plugs (4) £13.60\n"
    (problem,) = corpus.read(Sheet("made", "bits.txt", text, asks="x"), tmp_path)[1]
    assert '--pack "Spark plugs (4)=4"' in problem.mend
