"""Prices that are for several things: of a set, of a lot, two in one cell; and what stands beside them in signs."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from optimiser.errors import InputError, Problem
from optimiser.model.imports import Known, TakenRow, Told
from optimiser.money import Currency
from optimiser.quote_import import prices, understand
from optimiser.quote_import.prices import AsWritten
from tests.sheets.corpus import PARTS

KNOWN = Known(PARTS, {}, Currency.of("GBP"))


def read(
    folder: Path, body: str, file: str = "alder.csv", **told: dict[str, str]
) -> tuple[list[TakenRow], list[Problem]]:
    """The quotes of a sheet, and what is asked about it."""
    (folder / file).write_text(body, encoding="utf-8")
    try:
        understood = understand(folder / file, KNOWN, Told(**told))
    except InputError as error:
        return [], [*error.problems]
    return [*understood.rows], [*understood.doubts]


@pytest.mark.parametrize(
    "said",
    ["£70 the lot", "£70 both", "£70 all together", "£70 job lot", "£70 zusammen", "£70 le tout", "£70 alles samen",
     "£70 el lote", "£70 tutto insieme", "razem £70", "£70 tillsammans", "£70 samlet", "£70 tudo junto"],
)  # fmt: skip
def test_a_price_of_several_together_is_asked_about_and_never_that_of_one(tmp_path: Path, said: str):
    for unit in ("", "each"):
        rows, doubts = read(
            tmp_path, f"Part,Unit,Condition,Price\nAlternator,{unit},used,{said}\nStarter motor,,used,\n"
        )
        assert not rows
        assert [problem.key for problem in doubts] == ["price"]
        assert "what each part costs by itself" in doubts[0].mend


def test_of_a_lot_of_which_the_name_says_how_many_it_is_the_price_is_known(tmp_path: Path):
    rows, doubts = read(tmp_path, "Part,Condition,Price\nWheel bolt (set of 16),new,£12 the lot\n")
    assert [(row.price_minor, row.pack) for row in rows] == [(1200, 16)]
    assert not doubts


@pytest.mark.parametrize(
    ("said", "amount", "pack"),
    [
        ("set of 4 for £10", 10, 4), ("4 Stück für 10", 10, 4), ("Satz von 4 für 10 €", 10, 4),
        ("12 der 4er-Satz", 12, 4),
        ("le lot de 4 à 10 €", 10, 4), ("setje van 4 voor € 10", 10, 4), ("juego de 4 por 10 €", 10, 4),
        ("set da 4 per 10 €", 10, 4), ("zestaw 4 szt. za 40 zł", 40, 4), ("sats om 4 för 90 kr", 90, 4),
        ("sæt à 4 for 100 kr", 100, 4), ("conjunto de 4 por 10 €", 10, 4), ("£10 4-pack", 10, 4),
        ("30 for 4 pcs", 30, 4),
        ("€ 6 per stuk", 6, None), ("6 € das Stück", 6, None), ("6 € la pièce", 6, None),
    ],
)  # fmt: skip
def test_prices_in_words_say_how_many_they_are_for(said: str, amount: int, pack: int | None):
    read_as = prices.price(said)
    assert isinstance(read_as, AsWritten)
    assert (read_as.amount.value, read_as.pack, read_as.per) == (Decimal(amount), pack, "pack" if pack else "each")


@pytest.mark.parametrize(
    "said",
    [
        "3 stuks à € 5",
        "4 for £10 each",
        "4 Stück 10 €",
        "4 Stück zu 10 €",
        "2 for £10 the lot",
        "2 par för 100 kr",
        "zestaw 4 szt. po 10 zł",
    ],
)
def test_so_many_at_so_much_may_be_the_price_of_one(said: str):
    assert not isinstance(prices.price(said), AsWritten)


@pytest.mark.parametrize("said", ["£35 each or £60 the pair", "£60 a pair; £35 each", "35 das Stück / 60 das Paar"])
def test_two_prices_in_one_cell_are_two_quotes(tmp_path: Path, said: str):
    rows, doubts = read(tmp_path, f'Part,Condition,Price\nFront brake disc,new,"{said}"\n')
    assert sorted((row.price_minor, row.pack) for row in rows) == [(3500, 1), (6000, 2)]
    assert not doubts


@pytest.mark.parametrize("said", ["£35 or £60", "£35 each or £30 the pair", "£35 each + VAT or £60 the pair"])
def test_two_prices_that_are_not_one_of_one_and_one_of_more_are_asked_about(tmp_path: Path, said: str):
    rows, doubts = read(tmp_path, f"Part,Condition,Price\nFront brake disc,new,{said}\n")
    assert not rows
    assert [problem.key for problem in doubts] == ["price"]


@pytest.mark.parametrize(
    ("there", "gone"), [("✓", "✗"), ("✔", "x"), ("☑", "✘"), ("yes", "-"), ("ja", "nein"), ("oui", "non")]
)
def test_ticks_and_crosses_say_what_is_in_stock(tmp_path: Path, there: str, gone: str):
    body = f"Part,Condition,Price,In stock\nAlternator,used,40,{there}\nStarter motor,used,30,{gone}\n"
    rows, doubts = read(tmp_path, body)
    assert [row.stock for row in rows] == [None, 0]
    assert not doubts


def test_a_cross_where_no_tick_stands_may_be_a_tick(tmp_path: Path):
    _, doubts = read(tmp_path, "Part,Condition,Price,In stock\nAlternator,used,40,x\nStarter motor,used,30,\n")
    assert [problem.key for problem in doubts] == ["stock"]


def test_a_column_of_times_is_how_long_one_waits_unless_it_is_about_paying(tmp_path: Path):
    for heading, days in (("Termin", [5, 2]), ("Zahlungsziel", [None, None])):
        rows, _ = read(
            tmp_path, f"Part,Condition,Price,{heading}\nAlternator,new,40,3-5 Tage\nStarter motor,new,30,2 dni\n"
        )
        assert [row.lead_days for row in rows] == days


def test_what_is_kept_for_somebody_is_asked_about_and_the_rest_is_to_be_had(tmp_path: Path):
    body = "Pieza,Precio,Estado\nAlternador,50,disponible\nMotor de arranque,40,vendido\nBujía,3,reservado\n"
    (tmp_path / "desguace.csv").write_text(f"Piezas usadas\n{body}", encoding="utf-8")
    understood = understand(tmp_path / "desguace.csv", Known(PARTS, {}, Currency.of("EUR")), Told(supplier="alder"))
    assert [row.part for row in understood.rows] == ["alternator"]
    assert ["reservado=not on offer" in problem.mend for problem in understood.doubts] == [True]


@pytest.mark.parametrize("file", ["factor list.csv", "price guide.csv", "wrecking now.csv"])
def test_a_file_of_trade_words_names_nobody_beside_a_letterhead(tmp_path: Path, file: str):
    body = "Part,Condition,Price\nAlternator,used,40\n"
    rows, doubts = read(tmp_path, f"Tolvaddon Ltd,,Page 1 of 2\n{body}", file)
    assert ([row.supplier for row in rows], doubts) == (["tolvaddon"], [])
    rows, doubts = read(tmp_path, f"prices as of today\n{body}", file)
    assert not rows
    assert "supplier" in [problem.key for problem in doubts]
