"""What headings mean, and where they stand. The headings are trade habit: common practice, no source."""

from __future__ import annotations

import tomllib

import pytest

from optimiser.job_folder import package_data
from optimiser.model.imports import How, Told
from optimiser.money import Currency
from optimiser.quote_import import headings, lexicon, taxes

GBP = Currency.of("GBP")

MEANINGS = [
    ("part", "part", "", "", 1),
    ("Part Description", "part", "", "", 1),
    ("PART NO.", "ref", "", "", 1),
    ("Stock no", "ref", "", "", 1),
    ("No. in stock", "stock", "", "", 1),
    ("Nr. auf Lager", "stock", "", "", 1),
    ("Lager-Nr.", "", "", "", 1),
    ("Consigne TTC (en sus)", "deposit", "", "", 1),
    ("Consigne HT", "deposit", "without", "", 1),
    ("Pfand (zzgl.)", "deposit", "", "", 1),
    ("Depositum (momsfrit, tilbagebetales)", "deposit", "", "", 1),
    ("Prezzo netto IVA incl.", "price", "with", "", 1),
    ("Supplied and fitted", "ignore", "", "", 1),
    ("Price", "price", "", "", 1),
    ("Price (£)", "price", "", "£", 1),
    ("Price GBP", "price", "", "GBP", 1),
    ("Price £ (ex. VAT)", "price", "without", "£", 1),
    ("Price (EUR, incl. VAT)", "price", "with", "EUR", 1),
    ("Price + VAT", "price", "without", "", 1),
    ("Price not including VAT", "price", "without", "", 1),
    ("Net price", "price", "without", "", 1),
    ("Nett", "price", "without", "", 1),
    ("inc VAT", "price", "with", "", 1),
    ("Ex-VAT", "price", "without", "", 1),
    ("Unit price ex VAT", "unit_price", "without", "", 1),
    ("Price each inc. tax", "price_each", "with", "", 1),
    ("VAT", "tax", "", "", 1),
    ("Tax", "tax", "", "", 1),
    ("VAT %", "tax_rate", "", "", 1),
    ("VAT rate", "tax_rate", "", "", 1),
    ("VAT amount", "tax_amount", "", "", 1),
    ("VAT (£)", "tax", "", "£", 1),
    ("of which VAT", "ignore", "", "", 1),
    ("Lead time (weeks)", "lead_days", "", "", 7),
    ("Lead time days", "lead_days", "", "", 1),
    ("Guarantee (years)", "warranty_months", "", "", 12),
    ("In stock", "stock", "", "", 1),
    ("Pack qty", "pack", "", "", 1),
    ("Qty", "ignore", "", "", 1),
    ("RRP", "ignore", "", "", 1),
    ("Line total", "ignore", "", "", 1),
    ("Total inc VAT", "ignore", "with", "", 1),
    ("Suplier", "supplier", "", "", 1),
    ("Descripton", "part", "", "", 1),
    ("Price 2", "", "", "", 1),
    ("Price 10+", "", "", "", 1),
    ("Colour", "", "", "", 1),
    ("x" * 100, "", "", "", 1),
]


@pytest.mark.parametrize(("text", "column", "tax", "currency", "times"), MEANINGS)
def test_meaning(text, column, tax, currency, times):
    read = headings.meaning(text, GBP)
    assert (read.column, read.tax, read.times) == (column, tax, times)
    assert read.currency == currency or not column


def test_how_it_was_known():
    assert headings.meaning("price", GBP).how is How.EXACT
    assert headings.meaning("Asking price", GBP).how is How.SYNONYM
    close = headings.meaning("Suplier", GBP)
    assert close.how is How.CLOSE
    assert headings.CLOSE_HEADING <= close.likeness < 100


@pytest.mark.parametrize("name", ["headings.toml", "condition_words.toml"])
def test_the_words_say_where_they_come_from(name):
    text = (package_data.folder() / name).read_text(encoding="utf-8")
    header = text.split("\n[")[0]
    assert "common practice, no published source" in header


def test_no_word_means_two_columns():
    raw = tomllib.loads((package_data.folder() / "headings.toml").read_text(encoding="utf-8"))
    seen: dict[str, str] = {}
    for column, words in raw["columns"].items():
        assert column in headings.COLUMNS or column in headings.PRICES
        for word in map(lexicon.plain, words):
            assert seen.setdefault(word, column) == column, word
    assert not set(seen) & set(lexicon.headings().left_out)


def test_no_word_means_two_conditions():
    raw = tomllib.loads((package_data.folder() / "condition_words.toml").read_text(encoding="utf-8"))
    seen: dict[str, str] = {}
    for condition, table in raw.items():
        for word in map(lexicon.plain, (*table["words"], *table.get("weak", ()))):
            assert seen.setdefault(word, condition) == condition, word


@pytest.mark.parametrize(
    ("text", "heading", "mark"),
    [("inc", "", "with"), ("Ex.", "", "without"), ("yes", "with", "with"), ("no", "with", "without"),
     ("yes", "without", "without"), ("no", "without", "with"), ("+ VAT", "", "without"),
     ("front disc", "", ""), ("25", "", "")],
)  # fmt: skip
def test_what_a_cell_says_of_the_tax(text, heading, mark):
    assert taxes.in_cell(text, heading) == mark


def test_a_told_heading_that_is_not_there_or_no_column(taken):
    sheet = "part,condition,price\nfront disc,new,5\n"
    (problem,) = taken(sheet, Told(columns={"Cost": "price"})).doubts
    assert "price" in problem.expected
    (problem,) = taken(sheet, Told(columns={"price": "prise"})).doubts
    assert 'did you mean "price"' in problem.mend


@pytest.mark.parametrize(
    ("told", "key"),
    [(Told(decimal=";"), "decimal"), (Told(ex_tax="lots"), "ex_tax"), (Told(parts={"x": "front-disk"}), "part"),
     (Told(supplier="???"), "supplier"),
     (Told(decimal=","), "price")],
)  # fmt: skip
def test_told_what_makes_no_sense(taken, told, key):
    assert [problem.key for problem in taken("part,condition,price\nfront disc,new,5.25\n", told).doubts] == [key]


def test_every_heading_is_accounted_for(taken):
    understood = taken("Item,State,Price,RRP,Colour,Notes,Note 2,comment\nfront disc,new,5,9,red,a,b,c\n")
    assert [(h.text, h.column, bool(h.why)) for h in understood.headings] == [
        ("Item", "part", False),
        ("State", "condition", False),
        ("Price", "price", False),
        ("RRP", "", True),
        ("Colour", "", True),
        ("Notes", "note", False),
        ("Note 2", "", True),
        ("comment", "note", False),
    ]
    assert understood.rows[0].note == "a; c"


def test_an_ignored_price_is_no_price(taken):
    understood = taken("part,condition,price\nfront disc,new,5\n", Told(columns={"price": "ignore"}))
    assert [problem.key for problem in understood.doubts] == ["price"]
    assert understood.rows == ()


HUNGARIAN = "Alkatrész;Állapot;Ár;Készlet\nFront brake disc;új;42,50;4\nRear brake shoe;használt;5,00;1\n"


def test_headings_that_nobody_knows_are_proposed_by_their_cells(taken, refused):
    assert '--map "Alkatrész=part" --map "Ár=price" --map "Állapot=condition"' in refused(HUNGARIAN).mend
    told = Told(columns={"Alkatrész": "part", "Ár": "price", "Állapot": "condition"}, words={"új": "new"})
    understood = taken(HUNGARIAN, told)
    assert [row.price_minor for row in understood.rows] == [4250]
    assert any("használt" in problem.found for problem in understood.doubts)


def test_nothing_is_proposed_where_no_texts_stand_above_figures(refused):
    assert refused("a;b\nc;d\n").mend.startswith("write the headings above the columns, or type its prices")


def found(understood) -> list[tuple[str, str]]:
    return [(problem.key, problem.found) for problem in understood.doubts]


@pytest.mark.parametrize("line", ["All prices $", "Price list (€)", "Preise in €", "Everything in EUR"])
def test_a_line_that_names_another_currency_is_a_doubt(taken, line):
    text = f"{line}\nPart,Condition,Price inc VAT\nFront brake disc,New,40.00\n"
    assert found(taken(text))[0][0] == "currency"
    assert taken(text, Told(words={line: "ignore"})).doubts == ()
    assert taken(text.replace(line, "Prices in £")).doubts == ()


@pytest.mark.parametrize("heading", ["Cur", "Money", "Notes"])
def test_a_column_that_names_another_currency_is_a_doubt(taken, heading):
    text = f"Part,Condition,Price inc VAT,{heading}\nFront brake disc,New,40.00,EUR\n"
    assert [key for key, _ in found(taken(text))] == ["currency"]
    assert taken(text.replace("EUR", "GBP")).doubts == ()
    assert taken(text.replace(heading, "Currency")).doubts != ()


def test_several_price_columns_below_one_heading(taken):
    text = "Part,Price,,\n,New,Recon,Used\nStarter motor,140,90,50\n"
    assert [(row.condition, row.price_minor) for row in taken(text).rows] == [
        ("new", 14000), ("refurbished", 9000), ("salvage", 5000),
    ]  # fmt: skip


def test_a_column_called_unit_that_holds_amounts_is_no_pack(taken):
    text = "Qty,Part,Condition,Unit,Amount\n2,Front brake disc,New,40.00,80.00\n"
    understood = taken(text, Told(columns={"Unit": "price"}))
    assert [(row.price_minor, row.pack) for row in understood.rows] == [(4000, 1)]
    assert understood.doubts == ()
    assert taken(text, Told(columns={"Amount": "price"})).doubts


@pytest.mark.parametrize("name", ["2x Front brake disc", "Front brake disc x2"])
def test_the_pieces_of_a_name_are_settled_as_printed(taken, name):
    told = Told(parts={name: "front-disc"})
    text = f"Part,Condition,Price inc VAT\n{name},New,80.00\n"
    assert [key for key, _ in found(taken(text, told))] == ["pack"]
    both = Told(parts={name: "front-disc"}, packs={name: "2"})
    assert taken(text, both).doubts == ()
    assert [(row.price_minor, row.pack) for row in taken(text, both).rows] == [(8000, 2)]


def test_single_letters_for_conditions_are_asked_for_one_by_one(taken):
    text = "Part,Condition,Price inc VAT\nStarter motor,R,40.00\nFront brake disc,N,30.00\n"
    assert [key for key, _ in found(taken(text))] == ["condition", "condition"]
    both = Told(words={"R": "refurbished", "N": "new"})
    assert sorted(row.condition for row in taken(text, both).rows) == ["new", "refurbished"]


@pytest.mark.parametrize("note", ["+25 if not returned", "old unit to be handed in first", "against your old one"])
def test_a_note_about_the_old_unit_or_more_on_top_is_a_doubt(taken, note):
    text = f"Part,Condition,Price inc VAT,Notes\nStarter motor,Recon,40.00,{note}\n"
    assert [key for key, _ in found(taken(text))] in (["deposit"], ["money"])


@pytest.mark.parametrize("note", ["ring +44 1632 960123", "+44 (0)1632 960123", "call +49 30 1234"])
def test_a_telephone_number_is_none(taken, note):
    assert taken(f"Part,Condition,Price inc VAT,Notes\nStarter motor,Recon,40.00,{note}\n").doubts == ()
