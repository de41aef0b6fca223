"""Layouts that differ in how money, tax, packs and currencies are written."""

from __future__ import annotations

from optimiser.quote_import import Told

from .layout import Layout
from .making import delimited

LAYOUTS = [
    Layout(
        "our own columns",
        delimited("""
            part | supplier | condition | price | pack | ref
            front-disc | quillfeather | new | 27.50 | 1 | Q1180
            front-disc | quillfeather | new | 51.00 | 2 | Q1180-A
        """),
        "2 front-disc quillfeather new 27.50 /1 Q1180; 3 front-disc quillfeather new 51.00 /2 Q1180-A",
    ),
    Layout(
        "trade words, pound signs, three spellings of one shop",
        delimited("""
            Description | Vendor | Cond. | Our Price | Part No.
            Front Brake Disc | Oddlode Rebuilds Ltd | Reconditioned | £17.00 | R-20
            Starter Motor | ODDLODE REBUILDS | rebuilt | £74 | R-01
            Rear Brake Shoe | Odlode Rebuilds | Recon. | £1,018.50 | R-25
        """),
        "2 front-disc oddlode-rebuilds refurbished 17.00 /1 R-20;"
        "3 starter-motor oddlode-rebuilds refurbished 74.00 /1 R-01;"
        "4 rear-shoe oddlode-rebuilds refurbished 1018.50 /1 R-25",
        cautions=('"Odlode Rebuilds" was taken for the supplier oddlode-rebuilds',),
    ),
    Layout(
        "semicolons and decimal commas, cp1252, Windows line ends",
        delimited(
            """
            Artikel | Zustand | Preis
            Front brake disc | neu | 27,50 €
            Starter motor | gebraucht | 1.074,00 €
            Relay 12 V | neu | 1.250 €
        """,
            ";",
            "cp1252",
            "\r\n",
        ),
        "2 front-disc oddlode-rebuilds new 27.50 /1; 3 starter-motor oddlode-rebuilds salvage 1074.00 /1;"
        "4 relay-12v oddlode-rebuilds new 1250.00 /1",
        currency="EUR",
        cautions=("semicolons", "cp1252"),
    ),
    Layout(
        "tabs, UTF-16 with a mark",
        delimited(
            """
            item | state | cost
            front brake disc | brand new | 27.50
        """,
            "\t",
            "utf-16",
        ),
        "2 front-disc oddlode-rebuilds new 27.50 /1",
        cautions=("tabs",),
    ),
    Layout(
        "UTF-16 without a mark",
        delimited(
            """
            item | state | cost
            front brake disc | brand new | £27.50
        """,
            ",",
            "utf-16-le",
        ),
        "2 front-disc oddlode-rebuilds new 27.50 /1",
        cautions=("UTF-16",),
    ),
    Layout(
        "upright strokes around everything, a rule below the headings",
        b"| part | condition | price |\n|------|-----------|------:|\n| front disc | new | 27.50 |\n",
        "3 front-disc oddlode-rebuilds new 27.50 /1",
        "2 part",
    ),
    Layout(
        "a letter head, headings further down, a total, sections, a footer",
        delimited("""
            Mossback Yard
            Quotation for the tired camper
            |
            Part | Condition | Price
            BRAKES
            Front brake disc | used | 8.00
            Rear brake shoe | used | 5.00
            Total | | 13.00
            Carriage | | 9.00
            Goods remain ours until paid for
        """),
        "6 front-disc mossback-yard salvage 8.00 /1; 7 rear-shoe mossback-yard salvage 5.00 /1",
        "1 text; 2 text; 5 text; 8 total; 9 total; 10 text",
        file="Book1.csv",
        doubts="postage row 9",
    ),
    Layout(
        "two for thirty and its kin",
        delimited("""
            part | condition | price
            front disc | used | 2 for 30
            rear shoe | used | 30/pr
            rear shoe | new | £12.50 each
            relay-12v | new | box of 10 £14.00
            relay-12v | new | £16 per 10
            relay-12v | new | £1.60 ea
            relay-12v | new | 95p
            starter motor | used | £40 the pair
        """),
        "2 front-disc oddlode-rebuilds salvage 30.00 /2; 3 rear-shoe oddlode-rebuilds salvage 30.00 /2;"
        "4 rear-shoe oddlode-rebuilds new 12.50 /1; 5 relay-12v oddlode-rebuilds new 14.00 /10;"
        "6 relay-12v oddlode-rebuilds new 16.00 /10; 7 relay-12v oddlode-rebuilds new 1.60 /1;"
        "8 relay-12v oddlode-rebuilds new 0.95 /1; 9 starter-motor oddlode-rebuilds salvage 40.00 /2",
    ),
    Layout(
        "no price yet, and prices that nobody could be sure of",
        delimited("""
            part | condition | price
            front disc | new | POA
            front disc | new | tbc
            front disc | new | -
            front disc | new |
            front disc | new | 12-15
            front disc | new | from £12
            front disc | new | 2 @ 15
            front disc | new | 10 for 5
            front disc | new | -12.00
            front disc | new | 0.00
            front disc | new | FOC
        """),
        "12 front-disc oddlode-rebuilds new 0.00 /1",
        "2 no price; 3 no price; 4 no price; 5 no price; 6 price; 7 price; 8 price; 9 price; 10 price; 11 price",
        doubts="price row 6; price row 7; price row 8; price row 9; price row 10; price row 11",
    ),
    Layout(
        "one figure that can be read two ways, and nothing to tell",
        delimited("""
            part | condition | price
            front disc | new | 1.234
            rear shoe | new | 20
        """),
        "3 rear-shoe oddlode-rebuilds new 20.00 /1",
        "2 price",
        doubts="price row 2: 1234 or as 1.234",
    ),
    Layout(
        "the same, told",
        delimited("""
            part | condition | price
            front disc | new | 1.234
        """),
        "2 front-disc oddlode-rebuilds new 1234.00 /1",
        told=Told(decimal=","),
    ),
    Layout(
        "the same, told by a line of text",
        delimited("""
            part | condition | price | note
            front disc | new | 1,234 | postage £4.95
        """),
        "2 front-disc oddlode-rebuilds new 1234.00 /1 postage £4.95",
        doubts="postage row 2",
    ),
    Layout(
        "the same, told by another row",
        delimited(
            """
            part | condition | price
            front disc | new | 1.234
            rear shoe | new | 12,5
        """,
            ";",
        ),
        "2 front-disc oddlode-rebuilds new 1234.00 /1; 3 rear-shoe oddlode-rebuilds new 12.50 /1",
    ),
    Layout(
        "three places where the sheet's own sign says decimals",
        delimited("""
            part | condition | price
            front disc | new | 1.234
            rear shoe | new | 12.50
        """),
        "3 rear-shoe oddlode-rebuilds new 12.50 /1",
        "2 price",
        doubts="price row 2",
    ),
    Layout(
        "three places in a currency of three",
        delimited("""
            part | condition | price
            front disc | new | 1.234
            rear shoe | new | 12.50
        """),
        "2 front-disc oddlode-rebuilds new 1.234 /1; 3 rear-shoe oddlode-rebuilds new 12.500 /1",
        currency="KWD",
    ),
    Layout(
        "tax as a rate, one row exempt",
        delimited("""
            part | condition | price ex VAT | VAT %
            front disc | new | 27.55 | 20
            rear shoe | new | 10.01 | 5%
            relay-12v | new | 3.00 | exempt
        """),
        "2 front-disc oddlode-rebuilds new 33.06 /1; 3 rear-shoe oddlode-rebuilds new 10.51 /1;"
        "4 relay-12v oddlode-rebuilds new 3.00 /1",
        cautions=("rounded half up",),
    ),
    Layout(
        "tax as an amount under the bare word",
        delimited("""
            part | condition | net | VAT | total
            front disc | new | 25.00 | 5.00 | 30.00
            rear shoe | new | 10.00 | 2.00 | 12.00
        """),
        "2 front-disc oddlode-rebuilds new 30.00 /1; 3 rear-shoe oddlode-rebuilds new 12.00 /1",
    ),
    Layout(
        "tax under the bare word that may be either",
        delimited("""
            part | condition | price | VAT
            front disc | new | 25.00 | 5
        """),
        "",
        "2 tax",
        doubts="tax row 1",
    ),
    Layout(
        "both prices: the one with the tax in it counts",
        delimited("""
            part | condition | ex. VAT | inc. VAT | RRP
            front disc | new | £25.00 | £30.00 | £44.00
        """),
        "2 front-disc oddlode-rebuilds new 30.00 /1",
    ),
    Layout(
        "tax said row by row",
        delimited("""
            part | condition | price | VAT included?
            front disc | new | 25.00 | no
            rear shoe | new | 12.00 | yes
            relay-12v | new | £3 + VAT |
        """),
        "2 front-disc oddlode-rebuilds new 30.00 /1; 3 rear-shoe oddlode-rebuilds new 12.00 /1;"
        "4 relay-12v oddlode-rebuilds new 3.60 /1",
        told=Told(ex_tax="20"),
    ),
    Layout(
        "a line says that tax is to be added, and how much",
        delimited("""
            All prices exclude VAT at 20%
            part | condition | price
            front disc | new | 25.00
        """),
        "3 front-disc oddlode-rebuilds new 30.00 /1",
        "1 text",
    ),
    Layout(
        "without tax, and no rate anywhere",
        delimited("""
            part | condition | price ex VAT
            front disc | new | 25.00
        """),
        "",
        "2 tax",
        doubts="price row 2",
    ),
    Layout(
        "two headings that may both be the price",
        delimited("""
            part | condition | trade price | your price
            front disc | new | 25.00 | 22.00
        """),
        "2 front-disc oddlode-rebuilds new 25.00 /1",
        doubts='price row 1: "trade price" and "your price"; money row 2: "22.00" under "your price"',
    ),
    Layout(
        "the same, told",
        delimited("""
            part | condition | trade price | your price
            front disc | new | 25.00 | 22.00
        """),
        "2 front-disc oddlode-rebuilds new 22.00 /1",
        told=Told(columns={"Your price": "price"}),
    ),
    Layout(
        "unit prices where a pack holds more than one",
        delimited("""
            part | condition | unit price | pack size
            front disc | new | 25.00 | 1
            relay-12v | new | 1.50 | 4
        """),
        "2 front-disc oddlode-rebuilds new 25.00 /1",
        "3 price",
        doubts="price row 3",
    ),
    Layout(
        "a price for two in a pack of four, and in a pack of two",
        delimited("""
            part | condition | price | pack
            relay-12v | new | 2 for 30 | 4
            relay-12v | new | 2 for 30 | 2
            relay-12v | new | 30/pr |
        """),
        "3 relay-12v oddlode-rebuilds new 30.00 /2; 4 relay-12v oddlode-rebuilds new 30.00 /2",
        "2 price",
        doubts="price row 2",
    ),
    Layout(
        "what a cell says of the tax counts before its heading",
        delimited("""
            part | condition | price inc VAT
            front disc | new | £3.00 + VAT
            rear shoe | new | £3.00
        """),
        "2 front-disc oddlode-rebuilds new 3.60 /1; 3 rear-shoe oddlode-rebuilds new 3.00 /1",
        told=Told(ex_tax="20"),
        cautions=("have the tax in them: none was added",),
    ),
    Layout(
        "a cell without the tax, and no rate anywhere",
        delimited("""
            part | condition | price
            front disc | new | £3.00 + VAT
            rear shoe | new | £3.00
        """),
        "3 rear-shoe oddlode-rebuilds new 3.00 /1",
        "2 tax",
        doubts="price row 2: a price without the tax",
    ),
    Layout(
        "a column for the tax with a gap in it",
        delimited("""
            part | condition | price | VAT rate
            front disc | new | 3.00 | 20
            rear shoe | new | 3.00 |
        """),
        "",
        "2 tax; 3 tax",
        doubts="tax row 2",
    ),
    Layout(
        "another currency in the heading",
        delimited("""
            part | condition | price EUR
            front disc | new | 3.00
            rear shoe | new | £3.00
        """),
        "3 rear-shoe oddlode-rebuilds new 3.00 /1",
        "2 price",
        doubts="currency row 1",
    ),
    Layout(
        "price each, by the pack",
        delimited("""
            part | condition | price each | pack of
            relay-12v | new | 1.55 | 4
        """),
        "2 relay-12v oddlode-rebuilds new 6.20 /4",
    ),
    Layout(
        "another currency",
        delimited("""
            part | condition | price | currency
            front disc | new | 25.00 | GBP
            rear shoe | new | 12.00 | EUR
            relay-12v | new | $3.00 |
        """),
        "2 front-disc oddlode-rebuilds new 25.00 /1",
        "3 price; 4 price",
        doubts="currency row 3; currency row 4",
    ),
]
