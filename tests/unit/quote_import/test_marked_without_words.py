"""What a person marks without words: lines struck through or hidden, columns hidden; in XLSX and in ODS."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import pytest

from optimiser.model.imports import Told
from optimiser.quote_import import heeding
from optimiser.sheet_files import archives, ods
from tests.golden.quote_import import making
from tests.sheets import corpus
from tests.sheets.corpus import Sheet

TEXT = "Part,Condition,Price inc VAT,Core\nFront brake disc,New,42.5,\nAlternator,Recon,89,25\n"
KINDS = pytest.mark.parametrize("kind", ["xlsx", "ods"])


def sheet(kind: str, **marks: tuple[int, ...]) -> Sheet:
    return replace(Sheet("", f"yarrow.{kind}", TEXT), **marks)


def found(made: Sheet, folder: Path, **words: str) -> list[str]:
    return [problem.found for problem in corpus.read(made, folder, Told(words=words))[1]]


@KINDS
@pytest.mark.parametrize(("mark", "said"), [("struck", "struck through"), ("hidden", "hidden")])
def test_a_marked_line_is_asked_about(tmp_path: Path, kind: str, mark: str, said: str):
    made = sheet(kind, **{mark: (3,)})
    (only,) = found(made, tmp_path)
    assert only.startswith(f"row 3 is {said}")
    assert found(sheet(kind), tmp_path) == []
    assert found(made, tmp_path, **{f"row 3 is {said}": "ignore"}) == []
    assert found(made, tmp_path, **{f"row 3 is {said}": "as it stands"}) == []


@KINDS
@pytest.mark.parametrize(("column", "named"), [(2, "Price inc VAT"), (3, "Core"), (1, "Condition")])
def test_a_hidden_column_that_is_used_is_asked_about(tmp_path: Path, kind: str, column: int, named: str):
    made = sheet(kind, hidden_columns=(column,))
    assert found(made, tmp_path) == [f'"{named}", a column that is hidden']
    assert corpus.unsettled(made, corpus.read(made, tmp_path)[1], tmp_path) == []
    rounds, (_, left) = corpus.settled(made, tmp_path)
    assert (rounds, left) == (1, ())


@pytest.mark.parametrize(
    ("styles", "row"),
    [
        # a style that comes from a struck one, the style of the row, that of the column, a stretch of text alone
        ('<style:style style:name="a" style:parent-style-name="gone"/>', '<table:table-cell table:style-name="a" {0}'),
        ("", '<table:table-row table:default-cell-style-name="gone"><table:table-cell {0}'),
        ("", "<table:table-cell {0}"),
    ],
)
def test_every_way_to_strike_through_in_ods(styles: str, row: str):
    gone = '<style:style style:name="gone"><style:text-properties style:text-line-through-style="solid"/></style:style>'
    column = "" if styles or "table-row" in row else '<table:table-column table:default-cell-style-name="gone"/>'
    cell = row.format('office:value-type="string"><text:p>Part</text:p></table:table-cell>')
    line = cell if "table-row" in cell else f"<table:table-row>{cell}"
    body = f'<table:table table:name="P">{column}{line}</table:table-row></table:table>'
    opened = ods.opened(
        archives.Archive(making.ods_of(body, f"<office:automatic-styles>{gone}{styles}</office:automatic-styles>"))
    )
    assert opened.grids[0].flags == {1: "struck through"}


def test_a_stretch_of_text_that_is_struck_and_one_that_is_not():
    styles = (
        '<office:automatic-styles><style:style style:name="T1"><style:text-properties'
        ' style:text-line-through-style="solid"/></style:style><style:style style:name="T2"><style:text-properties'
        ' style:text-line-through-style="none"/></style:style></office:automatic-styles>'
    )
    rows = "".join(
        '<table:table-row><table:table-cell office:value-type="string"><text:p>was '
        f'<text:span text:style-name="{name}">9</text:span></text:p></table:table-cell></table:table-row>'
        for name in ("T1", "T2")
    )
    opened = ods.opened(archives.Archive(making.ods_of(f'<table:table table:name="P">{rows}</table:table>', styles)))
    assert opened.grids[0].flags == {1: "struck through"}


@pytest.mark.parametrize(
    "text",
    ["Goods remain ours until paid for", "Ware bleibt bis zur vollständigen Bezahlung unser Eigentum",
     "La marchandise reste notre propriété jusqu'au paiement complet", "Title passes to you, not until paid in full"],
)  # fmt: skip
def test_until_goods_are_paid_for_says_nothing_of_a_price(text: str):
    assert heeding.kind(text) == ""


@pytest.mark.parametrize(
    "text", ["Prices hold until Friday", "valid until paid", "until further notice", "gültig bis Ostern"]
)
def test_until_anything_else_does(text: str):
    assert heeding.kind(text) == "valid"


def test_a_line_is_written_as_the_corpus_says(tmp_path: Path):
    """The corpus's own writer of ODS loses nothing."""
    path = sheet("ods").written(tmp_path)
    lines = ods.opened(archives.Archive(path.read_bytes())).grids[0].lines
    said = [["" if cell is None else str(cell) for cell in line.cells] for line in lines]
    assert said == [row[: len(cells)] for row, cells in zip(csv.reader(TEXT.splitlines()), said, strict=True)]


@pytest.mark.parametrize(
    ("rows", "row"),
    [
        ("Carriage,,7.95,\n", 'writes into suppliers.csv, --word "Carriage=postage 7.95"'),
        ("Postage £4.50 an order\n", 'writes into suppliers.csv, --word "Postage £4.50 an order=postage 4.50"'),
        ("Carriage charged at cost\n", "write yarrow,AMOUNT below supplier,postage in suppliers.csv"),
    ],
)
def test_postage_is_pointed_to_the_supplier_s_terms(tmp_path: Path, rows: str, row: str):
    made = Sheet("", "yarrow.csv", TEXT + rows)
    (problem,) = corpus.read(made, tmp_path)[1]
    assert problem.key == "postage"
    assert row in problem.mend
    assert corpus.settled(made, tmp_path)[0] == 1


def test_a_column_of_postage_is_pointed_there_too(tmp_path: Path):
    made = Sheet("", "yarrow.csv", "Part,Condition,Price inc VAT,Carriage\nFront brake disc,New,42.5,6.00\n")
    (problem,) = corpus.read(made, tmp_path)[1]
    assert 'which --accept writes into suppliers.csv, --map "Carriage=postage"' in problem.mend


@pytest.mark.parametrize(
    ("shown_as", "said"),
    [
        ("#,##0,", "shown in thousands"),
        ('0.0,"k"', "shown in thousands"),
        ("0.00,,", "shown in thousands"),
        (";;;", "not shown"),
        ('"POA"', "not shown"),
        ("0%", "cannot be read"),
    ],
)
def test_a_number_that_its_cell_shows_otherwise_is_no_price(tmp_path: Path, shown_as: str, said: str):
    made = Sheet("", "yarrow.xlsx", "Part,Condition,Price inc VAT\nAlternator,New,4500\n", shown_as=shown_as)
    (problem,) = corpus.read(made, tmp_path)[1]
    assert said in problem.found


@pytest.mark.parametrize(
    "shown_as", ["#,##0.00", "0", "General", "#,##0;[Red]-#,##0", "# ##0.00", '_-* #,##0.00_-;"-"']
)
def test_a_number_that_its_cell_shows_is_one(tmp_path: Path, shown_as: str):
    made = Sheet("", "yarrow.xlsx", "Part,Condition,Price inc VAT\nAlternator,New,4500\n", shown_as=shown_as)
    understood, doubts = corpus.read(made, tmp_path)
    assert doubts == ()
    assert understood is not None
    assert [row.price_minor for row in understood.rows] == [450_000]


def test_a_column_called_from_that_holds_figures_names_no_supplier(tmp_path: Path):
    made = Sheet("", "yarrow.csv", "Part,Condition,From,Price inc VAT\nSpark plug,New,1,4.00\nSpark plug,New,10,3.00\n")
    problems = corpus.read(made, tmp_path)[1]
    assert [problem.found for problem in problems] == ['"1" under "From", which is left out']


@pytest.mark.parametrize("line", ["Prijzen zijn exclusief", "All prices net", "Preise zzgl.", "Prices are exclusive"])
def test_prices_without_something_are_a_question_of_tax(tmp_path: Path, line: str):
    made = Sheet("", "yarrow.csv", f"Part,Condition,Price\nAlternator,New,45.00\n{line}\n")
    assert {problem.key for problem in corpus.read(made, tmp_path)[1]} <= {"tax", "price"}
    assert corpus.read(made, tmp_path)[1]
