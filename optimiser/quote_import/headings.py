"""One heading of a sheet: the column that it means, and what it says of tax and currency."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cache, lru_cache
from itertools import dropwhile

from optimiser.job_folder.quote_sheets import IGNORE, SHEET_COLUMNS
from optimiser.model.imports import How
from optimiser.model.quotes import Condition
from optimiser.money import Currency
from optimiser.quote_import import lexicon, numbers, pieces, row_values, taxes
from optimiser.quote_import.lexicon import plain
from optimiser.quote_import.taxes import Mark
from optimiser.sheet_files import currencies

CLOSE_HEADING = 86.0
"""Likeness in percent from which a heading is a known one spelled wrongly. Our own figure, no published source."""
_SHORTEST, _LONGEST = 4, 60
_SHORT_UNIT = 2
_UNITS = {"lead_days": {"days": 1, "weeks": 7}, "warranty_months": {"months": 1, "years": 12}}
PRICES = ("price", "price_each", "unit_price")
MONEY = (*PRICES, "deposit", "tax_rate", "tax_amount", "tax_said", "tax", "currency")
"""Columns where two candidates are a doubt and never a choice."""
COLUMNS = (*SHEET_COLUMNS, "price_for", "postage", "side")
"""What a heading can be told to be."""
NOT_ON_OFFER = "not on offer"
"""What a cell is told to mean where its row is to be left out."""
_SMALL = ("p", "pence", "penny", "cent", "cents", "ct", "øre", "öre", "grosze")
_HUMPS = re.compile(r"(?<=[a-z])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])")
"""Between the words of "SellPriceIncVAT"."""
_COMPOUND = re.compile(r"\b(brutto|netto)(?=\w{3})")


@dataclass(frozen=True)
class Variant:
    """What one of several price columns is for: a condition, a side, so many pieces."""

    condition: Condition | None = None
    side: str = ""
    pieces: int = 0
    whole: bool = False
    """Whether the price is for all pieces together; else it is that of one of so many."""


@dataclass(frozen=True)
class Meaning:
    """What a heading says. ``column`` is empty where it is not known; ``times`` turns its unit into days or months."""

    column: str
    how: How | None = None
    likeness: float = 0.0
    tax: Mark = ""
    currency: str = ""
    times: int = 1
    pack: int = 0
    """The pieces that a price below it is for; 0 where it does not say."""
    small: bool = False
    """Whether the amounts below it are in the smallest coin."""
    kind: str = ""
    """Of a heading that is no column of a quote: what stands below it."""
    variant: Variant | None = None
    deposit_inside: bool = False
    """Whether it says that the deposit is in the price."""
    of_line: bool = False
    """Whether an amount below it is for all pieces that its line orders."""
    rate: Decimal | None = None
    """The percent of tax to add, where it names one: "Price ex VAT 20%"."""
    after_discount: bool = False
    """Whether it says that the discount is off the prices below it."""
    sold_singly: bool = False
    """Whether one piece can be bought, of however many the prices below it are."""

    @property
    def weight(self) -> float:
        """How much it speaks for a line of headings."""
        known = {How.TOLD: 1.5, How.EXACT: 1.0, How.SYNONYM: 1.0, How.CLOSE: 0.5}
        return 0.0 if self.how is None else known.get(self.how, 0.0) if self.column != IGNORE else 0.2


@lru_cache(maxsize=8192)
def meaning(text: str, currency: Currency) -> Meaning:
    """The meaning of a heading."""
    if len(text) > _LONGEST:
        return Meaning("")
    mark, rest = currencies.in_heading(text, currency)
    if _after_discount().search(rest):
        return replace(meaning(_after_discount().sub(" ", text), currency), after_discount=True)
    words = _words(rest)
    found = _deposit_inside(words) or _of_words(rest) or (_of_money_alone(words) if mark else None)
    found = found or (_of_words(_HUMPS.sub(" ", rest)) if _HUMPS.search(rest) else None)
    found = (
        found or _of_deposit(words) or _fitted(words) or _of_goods(rest) or _was_or_now(words) or _close(_plus(rest))
    )
    if found is not None and found.column == "pack" and mark and plain(rest) in lexicon.headings().prices["each"]:
        found = replace(found, column="unit_price")  # "Unit £"
    rates = numbers.PERCENT.findall(text) if found is not None and found.tax == "without" else []
    rate = numbers.percent(f"{rates[0]}%") if len(rates) == 1 else None
    return Meaning("") if found is None else replace(found, currency=mark, rate=rate)


@cache
def _after_discount() -> re.Pattern[str]:
    return lexicon.any_of(lexicon.headings().prices["after_discount"])


def _of_words(text: str) -> Meaning | None:
    if taxes.names_tax(_words(text)) and (bare := numbers.PERCENT.sub(" ", text)).strip(" ()") != text.strip(" ()"):
        return _of_words(bare)  # "Price (VAT included at 20%)"
    words = _words(text)
    name = _plus(text.replace("%", " percent "))
    return _known(name) or _with_tax(words) or _with_unit(words) or _beside(words) or _per_pack(words)


def _words(text: str) -> list[str]:
    return _COMPOUND.sub(r"\1 ", _plus(text.replace("%", " percent "))).split()


def said_besides(text: str, currency: Currency) -> Meaning:
    """What any heading says of tax, pieces, coin and currency, whatever column it is told to be."""
    mark, rest = currencies.in_heading(text, currency)
    words = _COMPOUND.sub(r"\1 ", _plus(rest)).split()
    pack, words = pieces.taken_out(words)
    tax, words = taxes.said(words, alone=True)
    small = len(words) > 1 and words[-1] in _SMALL
    return Meaning("", tax=tax if tax != "inside" else "", currency=mark, pack=pack, small=small)


def _plus(text: str) -> str:
    """The plain words; a plus before a word is one itself, a plus behind a number is none; "/100" is "per 100"."""
    return plain(re.sub(r"/(?=\s*\d)", " per ", re.sub(r"\+(?=\s*[^\W\d])", " plus ", text)))


def _beside(words: list[str]) -> Meaning | None:
    """A price or a deposit with the pieces or the coin beside it: "Price per 100 inc VAT", "Price (p)"."""
    pack, rest = pieces.taken_out(words)
    coin = next((word for word in rest[1:] if word in _SMALL), "")
    small = bool(coin)
    rest = [word for word in rest if word != coin]
    if pack > 1 and not rest:
        return Meaning("price", How.SYNONYM, 100.0, pack=pack)
    if not rest or not (pack or small):
        return None
    found = _known(" ".join(rest)) or _with_tax(rest)
    if found is None or not (found.column in (*PRICES, "deposit") or found.kind in ("references", "totals", "savings")):
        return None
    column = "price" if pack > 1 and found.column == "price_each" else found.column  # "Preis/100 Stk."
    return replace(found, column=column, pack=pack, small=small)


def _per_pack(words: list[str]) -> Meaning | None:
    """A price of what is sold as one: "Price per carton", "Pris pr. pakke", "Price per unit of sale"."""
    known = lexicon.headings()
    if len(words) < 3 or words[1] not in known.qualifiers["per"] or known.columns.get(words[0]) != "price":
        return None
    of_pack = " ".join(words[2:])
    is_pack = known.columns.get(of_pack) == "pack" or of_pack in known.prices["pack"]
    return Meaning("price", How.SYNONYM, 100.0) if is_pack else None


def _of_money_alone(words: list[str]) -> Meaning | None:
    """A currency and nothing else, or with a word for one piece: "£", "€/Stk"."""
    if set(map(lexicon.bare, words)) - lexicon.headings().qualifiers["apiece"]:
        return None
    return Meaning("price_each" if words else "price", How.SYNONYM, 100.0)


def _known(name: str) -> Meaning | None:
    """A heading that a list has; in another order of its words, without accents, or beside words that say nothing."""
    return _listed(name) or _listed_by_words(name.split())


def _listed_by_words(words: list[str]) -> Meaning | None:
    known, plainly = lexicon.headings(), list(map(lexicon.bare, words))
    telling = [word for word in plainly if word not in known.qualifiers["neutral"]]
    for some in (plainly, telling):
        found = known.by_words.get(lexicon.in_order(some)) if some else None
        if found is not None:
            return _listed(found)
    each = [known.left_out.get(known.by_words.get(word, "")) for word in telling if len(word) >= _SHORTEST]
    if len(each) == len(telling) > 1 and set(each) == {"harmless"}:  # "Donor year"
        return Meaning(IGNORE, How.SYNONYM, 100.0, kind="harmless")
    return _of_pieces(telling)


def _of_pieces(words: list[str]) -> Meaning | None:
    """A price of one piece, a count of pieces, or a measure: "Stk. pris", "Dostępne szt.", "Weight (g)"."""
    known = lexicon.headings()
    of_units = (("apiece", ("price",)), ("counted", ("stock", "quantities")), ("measures", ("harmless",)))
    if words and words[0] in known.qualifiers["numbers"]:
        words = list(dropwhile(known.qualifiers["numbers"].__contains__, words))
        found = _listed_by_words(words)
        return found if found is not None and (found.column == "stock" or found.kind == "quantities") else None
    for left_out, fits in of_units:
        rest = [word for word in words if word not in known.qualifiers[left_out]]
        heading = known.by_words.get(lexicon.in_order(rest)) if 0 < len(rest) < len(words) else None
        found = None if heading is None else _listed(heading)
        if found is not None and (found.column in fits or found.kind in fits):
            return replace(found, column="price_each") if found.column == "price" else found
    return None


def _listed(name: str) -> Meaning | None:
    words = lexicon.headings()
    column = words.columns.get(name)
    if column is not None:
        return Meaning(column, How.EXACT if name == plain(column) else How.SYNONYM, 100.0)
    if name in words.left_out:
        return Meaning(IGNORE, How.SYNONYM, 100.0, kind=words.left_out[name])
    return Meaning("tax", How.SYNONYM, 100.0) if name in words.tax["words"] else None


def _with_tax(words: list[str]) -> Meaning | None:
    """Such as "Price ex VAT", "VAT %", "inc VAT", "Net"."""
    mark, rest = taxes.said(words)
    if not mark and not taxes.names_tax(words):
        mark, rest = taxes.said(words, alone=True)
    if mark == "inside":
        return Meaning(IGNORE, How.SYNONYM, 100.0, kind="harmless")
    if mark:
        known = lexicon.headings().tax
        whole = not (known["with_alone"] | known["without_alone"]).isdisjoint(words)  # "Consigne TTC"
        return _marked(mark, rest, names_tax=whole or taxes.names_tax(words))
    return _of_tax(words) if taxes.names_tax(words) else None


def _marked(mark: taxes.Mark, rest: list[str], *, names_tax: bool) -> Meaning | None:
    """A price, or a sum, of which a heading says whether the tax is in it; a deposit that has it in it."""
    known = lexicon.headings()
    if names_tax:
        rest = [word for word in rest if word not in known.tax["without_alone"] | known.tax["with_alone"]]
    each, said = known.prices["each"], " ".join(rest)
    price = Meaning("price", How.SYNONYM, 100.0) if not rest else _known(said) or _per_pack(rest)
    if price is not None and price.column == "pack" and said in each:  # "Unit inc VAT"
        price = replace(price, column="unit_price")
    if price is not None and price.column == "deposit":  # "Surcharge incl.": in the price, for all that is known
        tax: taxes.Mark = "without" if mark == "without" and names_tax else ""
        return replace(price, tax=tax) if names_tax or mark == "without" else Meaning("")
    if price is None:
        return None
    fits = price.column in PRICES or price.kind in ("totals", "references")
    return replace(price, tax=mark) if fits else None


def _of_tax(words: list[str]) -> Meaning | None:
    tax = lexicon.headings().tax
    about = set(words) - tax["words"] - {"of", "the", "code"}
    if about and about <= tax["rate"]:
        return Meaning("tax_rate", How.SYNONYM, 100.0)
    if about and about <= tax["amount"]:
        return Meaning("tax_amount", How.SYNONYM, 100.0)
    return None if about - tax["said"] else Meaning("tax", How.SYNONYM, 100.0)


def _fitted(words: list[str]) -> Meaning | None:
    """What a part costs with the work of fitting it: "Supplied and fitted", "Prix posé TTC"."""
    known = lexicon.headings()
    fitted = known.heeded["fitted"].intersection(words) or any(f in " ".join(words) for f in known.heeded["fitting"])
    return Meaning(IGNORE, How.SYNONYM, 100.0, kind="fitted") if fitted else None


def _of_deposit(words: list[str]) -> Meaning | None:
    """Words for a deposit and for money that comes back, and no others: "Refundable core charge".

    What is said of its tax may stand there, and that it comes on top, or is in the price: "Consigne TTC (en sus)",
    "of which surcharge".
    """
    known = lexicon.headings()
    if row_values.condition(" ".join(words), strong_only=True)[0] is not None and len(words) == 1:
        return None  # "Exchange" is the price of an exchange part
    text = " ".join(words)
    part = next((each for each in known.tax["inside"] if text.startswith(f"{each} ")), "")
    mark, rest = taxes.said(text.removeprefix(part).split())
    said = set(rest) - known.qualifiers["neutral"] - known.qualifiers["charges"]
    deposits = said & known.heeded["deposit"]
    if deposits:
        passed = known.heeded["on_top"] | known.heeded["exclusive"] | known.heeded["back"] | known.heeded["tax_free"]
        if not said.isdisjoint(known.heeded["on_top"]):  # "added to the price"
            passed |= {word for word in said if known.columns.get(word) in PRICES}
        said -= (passed | known.heeded["old_part"]) - deposits
    if not said or said != deposits - known.qualifiers["charges"] or mark == "inside":
        return None
    return Meaning("deposit", How.SYNONYM, 100.0, tax="without" if mark == "without" else "", deposit_inside=bool(part))


_GIVEN_BACK = frozenset(("with", "mit", "avec", "met", "con", "z", "med", "com"))
"""A price "with old unit" is that for whoever gives one back."""


def _deposit_inside(words: list[str]) -> Meaning | None:
    """A price with the deposit in it, or a deposit that is in the price: "Price inc VAT and surcharge"."""
    known = lexicon.headings()
    deposits, inside = known.heeded["deposit"] - {"exchange"}, known.tax["with"] - _GIVEN_BACK
    of_deposit, of_price = deposits.intersection(words), [w for w in words if known.columns.get(w) in PRICES]
    before = words[: words.index(of_price[0])] if of_price else []
    if of_deposit.intersection(before):
        within = inside | known.heeded["within"]
        left = {*words} - of_deposit - within - known.qualifiers["neutral"] - known.qualifiers["charges"]
        fits = left - known.heeded["and"] <= set(of_price) and not within.isdisjoint(before)
        return Meaning("deposit", How.SYNONYM, 100.0, deposit_inside=True) if fits else None
    if not of_deposit or not of_price or inside.isdisjoint(words):
        return None
    rest = [word for word in words if word not in deposits | known.heeded["and"]]
    of_tax = taxes.names_tax(rest) or not known.tax["with_alone"].isdisjoint(rest)
    found = _with_tax(rest) if of_tax else _known(" ".join(w for w in rest if w not in inside | _GIVEN_BACK))
    return replace(found, deposit_inside=True) if found is not None and found.column in PRICES else None


def _of_goods(text: str) -> Meaning | None:
    """Parts in a condition: "Rebuilt unit", "Used part"; what a new one costs elsewhere: "List price new"."""
    condition, goods, _ = row_values.condition(text, strong_only=True)
    known = lexicon.headings()
    listed = _listed_by_words(goods.split()) if condition == "new" else None
    if listed is not None and listed.kind == "references":
        return listed
    column = known.columns.get(goods, "")
    fits = condition is not None and (column == "part" or (goods in known.rows["goods"] and column in ("", "pack")))
    return Meaning("part", How.SYNONYM, 100.0) if fits else None


def _was_or_now(words: list[str]) -> Meaning | None:
    """A price with the word for what was asked before, or for what is asked now: "Precio antes", "Preis jetzt"."""
    known = lexicon.headings()
    rest = [word for word in words if known.columns.get(word) not in PRICES]
    of_time = " ".join(rest) if 0 < len(rest) < len(words) else ""
    if of_time in known.prices["was"]:
        return Meaning(IGNORE, How.SYNONYM, 100.0, kind="references")
    return Meaning("price", How.SYNONYM, 100.0) if of_time in known.prices["now"] else None


def _with_unit(words: list[str]) -> Meaning | None:
    """Such as "Lead time (weeks)", "Guarantee years"."""
    spans = lexicon.headings().cells["spans"]
    words = [word for word in words if word not in spans["working"]]
    if len(words) == 1 and len(words[0]) > _SHORT_UNIT and words[0] in spans["weeks"]:
        return Meaning("lead_days", How.SYNONYM, 100.0, times=_UNITS["lead_days"]["weeks"])
    found = _known(" ".join(words[:-1])) if len(words) > 1 else None
    units = _UNITS.get(found.column, {}) if found is not None else {}
    times = next((count for kind, count in units.items() if words[-1] in spans[kind]), None)
    return replace(found, times=times) if found is not None and times is not None else None


def _close(name: str) -> Meaning | None:
    """A heading that is all but a known one; none with other figures in it, and none near two columns."""
    if len(name) < _SHORTEST:
        return None
    from rapidfuzz import fuzz, process  # noqa: PLC0415 - wanted only for headings that no list has

    words = lexicon.headings()
    known = [*words.columns, *words.left_out]
    found = process.extract(name, known, scorer=fuzz.ratio, limit=5, score_cutoff=CLOSE_HEADING)
    columns = {words.columns.get(each, IGNORE) for each, _, _ in found if _figures(each) == _figures(name)}
    if len(columns) != 1 or columns == {IGNORE}:
        return None
    return Meaning(columns.pop(), How.CLOSE, found[0][1])


def _figures(name: str) -> str:
    return "".join(sign for sign in name if sign.isdigit())


SIDED = ("front", "rear", "left", "right", "nearside", "offside", "passenger side", "driver side")


def marked(texts: Sequence[str], meanings: Sequence[Meaning], currency: Currency) -> list[Meaning]:
    """The meanings, with each of several price columns marked with what it is for."""
    for family in (_of_condition, _of_side, _of_number):
        found = {}
        for index, (text, each) in enumerate(zip(texts, meanings, strict=True)):
            variant = family(text, currency) if text and each.how is not How.TOLD else None
            if variant is not None:
                found[index] = variant
        prices = sum(each.column in PRICES for each in meanings)
        several = len(set(found.values())) > 1 or (family is _of_number and len(found) == prices == 1)
        if several and (family is not _of_number or not all(texts[index].strip().isdecimal() for index in found)):
            others = [i for i, each in enumerate(meanings) if each.column in PRICES and i not in found]
            if family is _of_number and len(others) == 1 and min(each.pieces for each in found.values()) > 1:
                found[others.pop()] = Variant(pieces=1)  # the price beside "10+" is that of one
            if others:
                continue
            said = {index: said_besides(texts[index], currency) for index in found}
            if family is _of_number:
                said = _alike(said)
            return [
                replace(said[index], column="price", how=How.SYNONYM, likeness=100.0, variant=found[index])
                if index in found
                else each
                for index, each in enumerate(meanings)
            ]
    return _of_packs(meanings)


def _alike(said: Mapping[int, Meaning]) -> dict[int, Meaning]:
    """What one of several bands says of tax and currency holds for those that say nothing."""
    taxes_said, currencies_said = {each.tax for each in said.values()}, {each.currency for each in said.values()}
    tax, currency = max(taxes_said), max(currencies_said)
    if len(taxes_said - {""}) > 1 or len(currencies_said - {""}) > 1:
        return dict(said)
    return {index: replace(each, tax=tax, currency=currency) for index, each in said.items()}


def _of_packs(meanings: Sequence[Meaning]) -> list[Meaning]:
    """Prices of one piece and of packs of different sizes side by side: "Price each", "Price for 10"."""
    prices = [i for i, each in enumerate(meanings) if each.column in PRICES and each.how is not How.TOLD]
    packs = {meanings[index].pack or 1 for index in prices}
    alike = len({(meanings[index].tax, meanings[index].currency) for index in prices}) == 1
    if not alike or not 1 < len(packs) == len(prices) or any(each.column == "pack" for each in meanings):
        return list(meanings)
    variants = {index: Variant(pieces=meanings[index].pack or 1, whole=True) for index in prices}
    return [
        replace(each, column="price", variant=variants[index]) if index in variants else each
        for index, each in enumerate(meanings)
    ]


@lru_cache(maxsize=1024)
def _words_of_price(text: str, currency: Currency) -> tuple[str, ...]:
    """The words of a heading without its currency, its tax and the word price; a line is read with and without the one
    above it.
    """
    _, rest = currencies.in_heading(text, currency)
    _, words = taxes.said(plain(rest.replace("+", " plus ")).split(), alone=True)
    columns = lexicon.headings().columns
    return tuple(word for word in words if columns.get(word) not in PRICES)


def is_price_of_pack(text: str, currency: Currency) -> bool:
    """Whether a clause says that prices are for packs and no more: "Price per pack", "Preço por embalagem"."""
    return meaning(text, currency).column == "price" and _per_pack(_words(text)) is not None


def is_bare_price(text: str, currency: Currency) -> bool:
    """Whether a heading of prices says of them nothing but the currency and the tax."""
    return lexicon.headings().qualifiers["neutral"].issuperset(map(lexicon.bare, _words_of_price(text, currency)))


def state_of(text: str, currency: Currency) -> Condition | None:
    """The condition that a heading of prices names, if it says no more but of the tax: "Recon inc VAT"."""
    condition, rest, _ = row_values.condition(" ".join(_words_of_price(text, currency)), strong_only=True)
    return None if rest else condition


def _of_condition(text: str, currency: Currency) -> Variant | None:
    condition = state_of(text, currency)
    return None if condition is None else Variant(condition=condition)


def _of_side(text: str, currency: Currency) -> Variant | None:
    name = " ".join(_words_of_price(text, currency))
    side = lexicon.headings().sides.get(name, "")
    return Variant(side=side) if side in SIDED else None


@lru_cache(maxsize=1024)
def _of_number(text: str, currency: Currency) -> Variant | None:
    _, rest = currencies.in_heading(text, currency)
    found = pieces.BAND.search(rest.casefold().strip())
    if found is None or not int(found["pieces"]):
        return None
    before, marked = rest.strip()[: found.start()].strip(), found[0].strip() != found["pieces"]
    of_price = not before or (marked and meaning(before, currency).column in PRICES)  # "Price 2" is another price
    return Variant(pieces=int(found["pieces"])) if of_price else None
