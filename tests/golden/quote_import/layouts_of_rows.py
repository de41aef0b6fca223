"""Layouts that differ in their names, columns, cells and kinds of file."""

from __future__ import annotations

from optimiser.quote_import import Told

from .layout import Layout
from .making import delimited, ods, xlsx

LAYOUTS = [
    Layout(
        "conditions without a column, in the words of the part",
        delimited("""
            item | price
            Starter motor (reconditioned) | 74.00
            Starter motor - used | 28.00
            Starter motor, new old stock | 99.00
            Starter motor new/used | 50.00
            Starter motor | 60.00
            Starter motor, spares or repair | 5.00
        """),
        "2 starter-motor oddlode-rebuilds refurbished 74.00 /1; 3 starter-motor oddlode-rebuilds salvage 28.00 /1;"
        "4 starter-motor oddlode-rebuilds new 99.00 /1",
        "5 condition; 6 condition; 7 condition",
        doubts="condition row 5; condition row 6; condition row 7",
    ),
    Layout(
        "one condition for the whole sheet, told; pattern parts",
        delimited("""
            item | price
            Starter motor | 60.00
        """),
        "2 starter-motor oddlode-rebuilds salvage 60.00 /1",
        told=Told(condition="salvage"),
    ),
    Layout(
        "who made it instead of how old it is",
        delimited("""
            item | type | price
            Starter motor | pattern | 60.00
            Starter motor | genuine, used | 30.00
            Starter motor | breaker's | 20.00
        """),
        "2 starter-motor oddlode-rebuilds new 60.00 /1; 3 starter-motor oddlode-rebuilds salvage 30.00 /1;"
        "4 starter-motor oddlode-rebuilds salvage 20.00 /1",
    ),
    Layout(
        "near misses in part names, sides never confused",
        delimited("""
            item | condition | price
            Front brake disk | new | 20.00
            Rear brake shoes | new | 21.00
            Wing mirror lefft | used | 22.00
            Wing mirror | used | 23.00
            Relay 24 V | new | 24.00
            Rear brake disc | new | 25.00
        """),
        "2 front-disc oddlode-rebuilds new 20.00 /1; 3 rear-shoe oddlode-rebuilds new 21.00 /1",
        "4 part; 5 part; 6 part; 7 part",
        doubts="part row 4; part row 5",
        cautions=('"Front brake disk" was taken for the part front-disc',),
    ),
    Layout(
        "parts by the supplier's own number, told",
        delimited("""
            part number | description | condition | price
            XB-1 | ventilated, 256 mm | new | 25.00
            XB-2 | ventilated, 280 mm | new | 26.00
        """),
        "2 front-disc oddlode-rebuilds new 25.00 /1 XB-1 ventilated, 256 mm",
        "3 part",
        told=Told(parts={"xb-1": "front-disc"}),
    ),
    Layout(
        "everything else that a row can say",
        delimited("""
            item | grade | price | core | stock | lead time (weeks) | guarantee (years) | expires | returns | remarks
            starter motor | recon | 74.00 | £30.00 | 2 | 1 | 2 | 31/12/2026 | 70% | tested
            front disc | new | 20.00 | | 10+ | 2-3 days | 6 months | 5 Jan 2027 | full |
            rear shoe | new | 20.00 | | low | soon | lifetime | 03/01/2027 | maybe |
        """),
        "2 starter-motor oddlode-rebuilds refurbished 74.00 /1 tested deposit 30.00 stock 2 days 7 months 24"
        " until 2026-12-31 back 0.7;"
        "3 front-disc oddlode-rebuilds new 20.00 /1 stock 10 days 3 months 6 until 2027-01-05 back 1.0;"
        "4 rear-shoe oddlode-rebuilds new 20.00 /1 stock: low; refund_share: maybe; lead_days: soon;"
        " warranty_months: lifetime until 2027-01-03",
        cautions=("1 cells for stock could not be read",),
        doubts="sale row 4; stock row 4; lead_days row 4",
    ),
    Layout(
        "dates that nothing settles: the earlier day counts",
        delimited("""
            item | condition | price | expires
            starter motor | new | 74.00 | 07/03/2027
        """),
        "2 starter-motor oddlode-rebuilds new 74.00 /1 until 2027-03-07",
        cautions=("day or the month first",),
    ),
    Layout(
        "broken rows in a text file",
        b'part,condition,price\nfront disc,new,12,50\nfront disc,new\n"Rear ""brake"" shoe",new,5.00\n',
        "4 rear-shoe oddlode-rebuilds new 5.00 /1",
        "2 shape; 3 no price",
        doubts="shape row 2",
    ),
    Layout(
        "a spreadsheet of numbers, dates and a currency format",
        xlsx("""
            Part | Condition | Price | Valid until | Stock
            Front brake disc | new | #27.5 GBP | @2026-12-31 | #4
            Starter motor | used | #1234.5 | | #2
            Relay 12 V | new | 1,234.50 | |
        """),
        "2 front-disc oddlode-rebuilds new 27.50 /1 stock 4 until 2026-12-31;"
        "3 starter-motor oddlode-rebuilds salvage 1234.50 /1"
        " stock 2; 4 relay-12v oddlode-rebuilds new 1234.50 /1",
        file="oddlode.xlsx",
    ),
    Layout(
        "a number shown in another currency",
        xlsx("""
            Part | Condition | Price
            Front brake disc | new | #27.5 €
        """),
        "",
        "2 price",
        doubts="currency sheet Sheet1, row 2",
        file="oddlode.xlsx",
    ),
    Layout(
        "merged part names, merged notes, headings over two lines",
        xlsx("""
            Mossback Yard, price list | < | < | <
            Item | Price | < | State
            | ex VAT | inc VAT |
            Front brake disc | #20 | #24 | new
            ^ | #5 | #6 | used
            Everything is sold as seen, collect only | < | < | <
            Starter motor | #10 | #12 | used
        """),
        "4 front-disc mossback-yard new 24.00 /1; 5 front-disc mossback-yard salvage 6.00 /1;"
        "7 starter-motor mossback-yard salvage 12.00 /1",
        "1 text; 6 text",
        file="sheet.xlsx",
    ),
    Layout(
        "formulas with and without a stored result",
        xlsx("""
            Part | Condition | Price
            Front brake disc | new | =25
            Starter motor | used | =
        """),
        "2 front-disc oddlode-rebuilds new 25.00 /1",
        "3 price",
        doubts="price sheet Sheet1, row 3: a formula without a stored result",
        file="oddlode.xlsx",
        cautions=("1 cell is the stored result of a formula",),
    ),
    Layout(
        "several sheets, one of them hidden, one of terms",
        xlsx(
            """
            Part | Condition | Price
            Front brake disc | new | #25
            """,
            """
            We sell as seen.
            Postage | #5
            """,
            """
            Part | Condition | Price
            Rear brake shoe | new | #11
            """,
            """
            Part | Condition | Price
            Rear brake shoe | used | #7
            """,
            names=("New", "Terms", "Old prices", "Used"),
            hidden=("Old prices",),
        ),
        "2 front-disc oddlode-rebuilds new 25.00 /1; 2 rear-shoe oddlode-rebuilds salvage 7.00 /1",
        file="oddlode.xlsx",
        cautions=("the sheet Terms has no headings", "the sheet Old prices is hidden"),
        doubts="postage sheet Terms, row 2",
    ),
    Layout(
        "OpenDocument, with currency, percent and merged cells",
        ods("""
            Item | Condition | Net | VAT rate
            Front brake disc | new | #20 GBP | #20%
            ^ | used | #5 GBP | #0%
            Starter motor | used | =10 | #20%
        """),
        "2 front-disc oddlode-rebuilds new 24.00 /1; 3 front-disc oddlode-rebuilds salvage 5.00 /1;"
        "4 starter-motor oddlode-rebuilds salvage 12.00 /1",
        file="oddlode.ods",
    ),
    Layout(
        "the wrong ending to its name",
        xlsx("""
            Part | Condition | Price
            Front brake disc | new | #25
        """),
        "2 front-disc oddlode-rebuilds new 25.00 /1",
        file="oddlode.csv",
    ),
    Layout(
        "no currency in the job, a sign in the sheet",
        delimited("""
            part | condition | price
            front disc | new | £25.00
            rear shoe | new | 10.00
        """),
        "3 rear-shoe oddlode-rebuilds new 10.00 /1",
        "2 price",
        doubts="currency row 2",
        currency="XXX",
    ),
    Layout(
        "a supplier that no list knows, spelled twice",
        delimited("""
            part | from | condition | price
            front disc | Thripple & Sons Ltd. | new | 25.00
            rear shoe | thripple and sons | new | 10.00
        """),
        "2 front-disc thripple-and-sons new 25.00 /1; 3 rear-shoe thripple-and-sons new 10.00 /1",
        cautions=("not in suppliers.csv",),
    ),
    Layout(
        "nobody says whose sheet it is",
        delimited("""
            part | condition | price
            front disc | new | 25.00
        """),
        "",
        "2 supplier",
        doubts="supplier",
        file="prices 2026-11.csv",
    ),
]
