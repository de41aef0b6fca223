"""What a text is about that must not be passed over: the tax, the pack, the sale, the deposit, the postage, money."""

from __future__ import annotations

import re
from collections.abc import Sequence, Set
from functools import cache, lru_cache
from itertools import pairwise, takewhile
from typing import Literal

from optimiser.quote_import import lexicon, numbers, pieces, prices, row_values, taxes
from optimiser.quote_import.lexicon import plain
from optimiser.sheet_files import currencies
from optimiser.sheet_files.grid import Value

_DATE = re.compile(r"\b\d{1,4}([./-])\d{1,2}\1\d{2,4}\b")
_MONEY = re.compile(r"[£€$¥₹]|\d\s?%|(?<![\d.,])\d{1,6}[.,]\d\d(?!\d|[.,]\d)|\d/-|\d[:,.]-")
_SUM = re.compile(r"[£€$]\s?\d{1,6}(?:[.,]\d\d)?(?![\d.,]*\d)|(?<![\d.,])\d{1,6}(?:[.,]\d\d)?\s?(?:€|kr\b|zł)")
_OFF = re.compile(r"(?:%|percent|\d|half|third|money) off\b", re.IGNORECASE)
"""Less to pay; what is "off a van" was taken from one."""
_MONEY_OFF = re.compile(r"(?:[£€$]\s?\d+(?:[.,]\d\d)?|%|\bper ?cent) off\b", re.IGNORECASE)
_DONOR = re.compile(
    r"\b(?:off|from) (?:an?|one|our|my|the)(?: [^\W\d]+){0,3} "
    r"(?:(?:that|which) (?:came|went|failed|crashed|rolled|hit)\b[^.,;]*"
    r"|before (?:it|she|he|they|we|i) (?:was |got )?(?:went|sent|sold|taken|towed|scrapped|crushed)\b"
    r"(?: [^\W\d]+){0,4}(?=[.,;]|$))",
    re.IGNORECASE,
)
"""What became of a vehicle that parts were taken off: "off one that came in with a bent frame", "before she went"."""
_OLD_UNIT = re.compile(r"\b(?:old|worn|your) (?:old )?(?:unit|units|part|parts|core|item|one)\b")
_ON_TOP = re.compile(r"(?:^|\s)\+\s?\d{1,4}(?:[.,]\d\d)?(?!\s?[\d(])")
"""More to pay, and no telephone number."""
_TIME = re.compile(
    r"\b\d{1,3}(?:\s?-\s?\d{1,3})?\s?(?:working |business )?"
    r"(?:days?|weeks?|tage?n?|werktage?n?|jours?|dagen|dag|dagar|dage|d[ií]as?|giorn[io]|gg|dni|dzień|dager|päivää"
    r"|wochen?|semaines?|weken|week|semanas?|settiman[ae]|tydzień|tygodni[ea]?|veck(?:a|or)|uger?"
    r"|hours?|hrs?|h|std|stunden|uur|horas?|ore|godz|godzin[ay]?|timmar|timer)\b",
    re.IGNORECASE,
)
BY = "[x\N{MULTIPLICATION SIGN}]"
_TIMES = re.compile(
    rf"(?:^|[\s(])(?:{BY} ?\d{{1,3}}|\d{{1,3}} ?{BY})(?=$|[\s).,])|\([1-9]\d?\)|\bin \d{{1,3}}'?s\b", re.IGNORECASE
)
_FIGURE = r"\d+(?:[.,]\d+)?"
_SIZE = re.compile(
    rf"{_FIGURE}(?:\s?{BY}\s?{_FIGURE}){{1,2}}\s?(?:mm|cm|in|inch(?:es)?)\b|\bM\d{{1,2}}(?:\s?{BY}\s?{_FIGURE}){{1,2}}(?!\w)"
    rf"|(?<!\w)\d\d+(?:\s?{BY}\s?\d\d+){{1,2}}(?!\w|[.,]\d)",
    re.IGNORECASE,
)
"""How large something is: "280 x 22 mm", "40 x 40", or a thread."""
_CLOCK = r"\d{1,2}(?:[.:]\d\d)?\s?(?:am|pm|uhr|h)?"
_UNTIL = "(?:-|\N{EN DASH}|to|till|until|bis|à|tot|a|alle|do|til|às)"
_HOURS = re.compile(rf"(?<![\w.,£€$]){_CLOCK}\s?{_UNTIL}\s?{_CLOCK}(?![\w%]|[.,]\d)", re.IGNORECASE)
"""From when until when a shop is open."""
_OF_PAGES = r"(?:page|seite|blatt|p[aá]gina|pagina|blad|hoja|folha|feuille|strona|sida|side|pag|p[aá]g|str)\.?\s\d+"
_PAGE = re.compile(rf"\b{_OF_PAGES}(?:\s?(?:/|of|sur|von|de|van|di|z|av|af)\s?\d+)?\s*$", re.IGNORECASE)
"""At the end of a line, which page of how many it stands on."""
_LIST_NUMBER = re.compile(
    r"\b(?:price ?list|preisliste|prijslijst|prislist[ae]|cennik|listino|liste de prix|lista de (?:precios|preços))"
    r"\s(?:no\.?\s|nr\.?\s)?\d{1,4}\b(?![.,:]\d|\s?[%£€$])",
    re.IGNORECASE,
)
_NUMBER = re.compile(r"\d+")
_LONGEST = 500
_LONGEST_GREETING = 4
_PER, _SENTENCE = {"per", "je"}, 6
"""Words that stand for other things as well where nothing is counted; words that make a sentence."""
_PRICES = re.compile(r"preis|list|tarif|prijz|cennik|prislist", re.IGNORECASE)
_YEAR = re.compile(r"(?:19|20)\d\d(?:/(?:20)?\d\d)?")
_SAYS_NOTHING = re.compile(
    r"\bsold (?:as|by|in|singly|separately|individually|new|used|under)\b|\bestimate (?:no |nr |number )?\d+\b"
    r"|\b\d{1,3} (?:day|week|month)s? swap\b"
    r"|\b(?:as|wie|comme|come|como|zoals|som) (?:promised|versprochen|promis|promesso|prometido|beloofd|lovat|lovet)\b"
    r"|\bexchange (?:price )?list\b|\bprices? (?:are )?each\b|\bsold to\b|\bdepósito de \w+"
    r"|\bdelivery note\b|\bheavy duty\b|\btill (?:no )?\d{1,2}$|(?<!\d )\bpara (?=[^\W\d])"
)
"""Sold as what or singly, the number of an estimate, the name of a paper, and "for" in Spanish: a pair in Polish stands
behind a number, or last."""
_ADDRESS = re.compile(
    r"^(?:deliver(?:y|ed)? to|(?:delivery|shipping) address|(?:liefer|versand)(?:adresse|anschrift)|lieferung an"
    r"|adresse de livraison|livraison à|(?:af)?leveradres|bezorgadres|dirección de (?:entrega|envío)|enviar a"
    r"|indirizzo di (?:consegna|spedizione)|spedire a|adres (?:dostawy|wysyłki)|leveransadress|leveringsadresse"
    r"|(?:endereço|morada) de (?:entrega|envio))\s?:.*",
    re.IGNORECASE,
)
"""Where something is sent to, which says nothing of what that costs unless a figure stands there."""
_NO_TAX = taxes.NOT | {
    "hors",
    "without",
    "ohne",
    "sans",
    "zonder",
    "geen",
    "sin",
    "senza",
    "bez",
    "utan",
    "uden",
    "sem",
}
_NEITHER = frozenset(("nor", "neither", "weder", "ni", "né", "ani", "varken", "hverken", "nem"))
"""Words that deny two things at once."""
_TOGETHER_WITH = frozenset(("with", "mit", "avec", "met", "con", "z", "med", "com", "gross", "brutto", "bruto", "ttc"))
"""Of the words by which the tax is in a price, those that say of nothing else that it is."""
_ORDER = ("deposit", "discount", "postage", "sale", "valid", "pack")
KINDS = ("fitted", "tax", *_ORDER, "outdated", "money", "condition")


@lru_cache(maxsize=65_536)
def kind(text: str) -> str:
    """The first of the kinds that a text speaks of; empty where it may be passed over."""
    if (_ADDRESS.fullmatch(text) and not _MONEY.search(text)) or is_greeting(text):
        return ""
    text = _SIZE.sub(" ", _without_hours(_PAGE.sub(" ", _LIST_NUMBER.sub(" ", _numbered().sub(" ", text)))))
    if _phrase("already_off").search(plain(text)):
        text = _phrase("discount").sub(" ", numbers.PERCENT.sub(" ", text))
    said = _phrase("no_deposit").sub(" ", plain(_DONOR.sub(" ", text)))
    words = taxes.without_terms(_phrase("until_paid").sub(" ", _SAYS_NOTHING.sub(" ", said))).split()
    among, heeded = set(words), lexicon.headings().heeded
    without_order = _phrase("per_order").sub(" ", " ".join(words)).split()
    of_prices = not among.isdisjoint(heeded["money"]) or _PRICES.search(text)
    further = {"discount": _OFF.search(text), "sale": said == "offers" or _phrase("to_offers").search(said)}
    of_packs = among & heeded["pack"]
    of_pieces = of_prices or "sold" in among or any(map(str.isdigit, text))
    bare_per = not of_pieces and of_packs <= (_PER if len(words) < _SENTENCE else _PER | {"both"})
    subject = plain(text.partition(":")[0]) in lexicon.headings().suppliers["subjects"]  # "SV: Delar till bilen"
    needless = {
        "postage": is_time(text) or _is_free(said),
        "pack": bare_per,  # "per la richiesta"
        "valid": subject and not any(map(str.isdigit, text)),
    }
    found = (
        ("fitted", _phrase("fitting").search(said)),
        ("discount", _MONEY_OFF.search(text)),
        ("tax", _is_about_tax(text, words)),
        ("pack", pieces.MEASURE.search(text) or pieces.taken_out(without_order)[0] or _TIMES.search(text)),
        ("deposit", _OLD_UNIT.search(said)),
        ("postage", _phrase("carriage_forward").search(said)),
        ("outdated", of_prices and _phrase("outdated").search(said)),
        *((each, (among & heeded[each] or further.get(each)) and not needless.get(each)) for each in _ORDER),
        ("sale", "working" in row_values.condition(_DONOR.sub(" ", text), strong_only=True)[2]),
        ("money", _is_money(_DATE.sub(" ", text), among)),
    )
    return next((each for each, said_so in found if said_so), "")


def is_greeting(text: str) -> bool:
    """Whether a line says no more than whom a letter speaks to: "Hej Bent", "Hiya Col,"."""
    first, *others = plain(text).split() or [""]
    names = text.rstrip(" ,.!").split()[1:]
    greets = lexicon.headings().suppliers["greets"]
    known = lexicon.headings()
    of_money = known.heeded["deposit"] | known.heeded["discount"] | known.heeded["postage"] | known.heeded["money"]
    of_name = (
        len(others) < _LONGEST_GREETING
        and (of_money | known.tax["words"]).isdisjoint(others)
        and all(plain(name) in greets or (name.isalpha() and name[0].isupper()) for name in names)
    )
    return first in greets and of_name and row_values.condition(text, strong_only=True)[2].startswith("no condition")


def deposit_on_top(text: str) -> str:
    """The amount of a deposit that comes on top of the price, if a text says that and no more: "plus £40 surcharge"."""
    known, amounts = lexicon.headings(), prices.in_text(text)
    words = set(re.findall(r"\+|[^\W\d_]+", plain(text.replace("+", " plus "))))
    of_deposit = words & known.heeded["deposit"]
    rest = words - of_deposit - known.heeded["exclusive"] - known.qualifiers["charges"] - known.qualifiers["neutral"]
    says_it = bool(of_deposit and words & known.heeded["exclusive"]) and not rest
    return str(amounts[0].value) if says_it and len(amounts) == 1 and amounts[0].value is not None else ""


def of_deposit(text: str) -> Literal["", "inside", "on top"]:
    """Whether a line says of every deposit no more than that it is in the price, or on top of it, and is paid back.

    That it bears no tax is no more; what names a figure, or sets terms, is.
    """
    text = without_times(text)
    known, words = lexicon.headings(), plain(text).split()
    said, heeded = set(words), known.heeded
    untaxed, taxed = _taxes_denied(words)
    within = _places(words, _included())
    outside = {place for place in within if not taxes.NOT.isdisjoint(words[max(0, place - 3) : place])}
    denied = not _NEITHER.isdisjoint(words) or any(
        (untaxed | outside).isdisjoint(range(place, place + 4)) for place in _places(words, taxes.NOT)
    )
    others = heeded["terms"] | heeded["discount"] | heeded["postage"] | heeded["sale"] | heeded["valid"]
    more = taxed or denied or said & others or any(map(str.isdigit, text)) or _MONEY.search(text)
    if more or said.isdisjoint(heeded["deposit"] - {"exchange"}):
        return ""
    inside, on_top = within - outside, outside or said & (heeded["on_top"] | heeded["exclusive"])
    if inside:
        return "inside" if said & heeded["money"] and not on_top else ""
    return "on top" if on_top or said & heeded["back"] else ""


def deposit_in_every_price(text: str) -> str:
    """The one sum of money in a line that says of it no more than that it is a deposit, and in every price."""
    known, text = lexicon.headings(), without_times(text)
    found, words = _SUM.findall(text), plain(text).split()
    if len(found) != 1 or any(map(str.isdigit, text.replace(found[0], " "))):
        return ""
    before, behind = (plain(each).split() for each in text.split(found[0]))
    of_deposit = known.heeded["deposit"] - {"exchange"}
    others = ("terms", "discount", "postage", "sale", "valid", "on_top", "exclusive")
    more = set().union(*(known.heeded[each] for each in others), taxes.NOT, _NEITHER, known.tax["of_some"])
    more |= known.tax["words"] - of_deposit
    every = known.rows["every"] | known.prices["each"]
    said = all(not each.isdisjoint(before) for each in (every, known.heeded["money"], _included()))
    is_deposit = not of_deposit.isdisjoint((*before[-2:], *behind[:2]))
    return found[0] if said and is_deposit and more.isdisjoint(words) else ""


def _places(words: Sequence[str], among: Set[str]) -> set[int]:
    return {place for place, word in enumerate(words) if word in among}


def _included() -> frozenset[str]:
    """The words by which something is in a price."""
    return lexicon.headings().tax["with"] - _TOGETHER_WITH | lexicon.headings().heeded["contained"]


def _taxes_denied(words: Sequence[str]) -> tuple[set[int], bool]:
    """The places of words for a tax that there is none of, and whether others stand there."""
    known = lexicon.headings()
    places = _places(words, known.tax["words"] | known.heeded["taxed"])
    included = _included()
    last = {place: list(takewhile(lambda word: word not in included, reversed(words[:place]))) for place in places}
    denied = {place for place, nearest in last.items() if not _NO_TAX.isdisjoint(nearest[:3])}
    return denied, denied != places  # "surcharge does not include VAT" denies none


def is_of_untaxed_deposit(text: str) -> bool:
    """Whether a line says of deposits that they bear no tax, and nothing of what they are or of prices."""
    known, words = lexicon.headings().heeded, plain(text).split()
    untaxed, taxed = _taxes_denied(words)
    of_deposit = not (known["deposit"] - {"exchange"}).isdisjoint(words)
    others = known["money"] | known["discount"] | known["postage"] | known["sale"] | known["valid"]
    return bool(untaxed) and not taxed and of_deposit and others.isdisjoint(words) and not any(map(str.isdigit, text))


def is_paid_back(text: str) -> bool:
    """Whether a line says of something that it is paid back for the old unit, and nothing else."""
    known, plainly = lexicon.headings().heeded, plain(without_times(text))
    words = set(plainly.split())
    rest = words - known["back"] - known["old_part"] - known["of_it"] - lexicon.headings().qualifiers["neutral"]
    return bool(words & known["back"] and _OLD_UNIT.search(plainly)) and not rest and taxes.NOT.isdisjoint(words)


def is_exchange_alone(text: str) -> bool:
    """Whether a text says that parts are exchanged for old ones, and nothing of what that costs or of its terms."""
    named, rest, _ = row_values.condition(text, strong_only=True)
    return named == "refurbished" and kind(text) == "deposit" and says_no_more(rest) and not any(map(str.isdigit, text))


def is_page(text: str) -> bool:
    """Whether a text says on which page it stands, and nothing else."""
    return _PAGE.fullmatch(text.strip()) is not None


def _without_hours(text: str) -> str:
    """A line that names days of the week without the hours of these days."""
    weekdays = lexicon.headings().cells["weekdays"]["names"]
    return _HOURS.sub(" ", text) if weekdays.intersection(plain(text).split()) else text


@cache
def _numbered() -> re.Pattern[str]:
    """A paper, or whoever buys, with a number: "Quote Q-716", "account 4471", "Devis n° 118"."""
    named = lexicon.any_of(
        lexicon.headings().suppliers["of_orders"] | lexicon.headings().suppliers["to_whom_number"]
    ).pattern
    number = r"(?:(?:no|nr|n|number|code)[.°:]*:?\s\d{3,}|[A-Z]{1,3}[-/]?\d{3,}|\d{4,})(?:[-/]\d+)*"
    return re.compile(rf"{named}\.?:?\s{number}(?![\w.,%]*\d|\s?(?:[%£€$+]|or\b|and\b|pcs\b))", re.IGNORECASE)


@cache
def _phrase(kind: str) -> re.Pattern[str]:
    return lexicon.any_of(lexicon.headings().heeded[kind])


def _is_about_tax(text: str, words: list[str]) -> bool:
    heeded, among = lexicon.headings().heeded, set(words)
    of_deposit = among & heeded["deposit"] or _OLD_UNIT.search(plain(text))
    if among & heeded["money"] and among & heeded["exclusive"] and not of_deposit:
        return True
    return (
        is_for_trade(text)
        or bool(taxes.said(words)[0] or taxes.in_line(text))
        or (taxes.names_tax(words) and not _is_number_of_firm(text, words))
    )


def is_tax_of_some(text: str) -> bool:
    """Whether a line about the tax tells goods apart: "new parts plus VAT, used ones under the margin scheme"; or is
    about a charge alone: "surcharge plus VAT".
    """
    words, tax, heeded = plain(text).split(), lexicon.headings().tax, lexicon.headings().heeded
    two = row_values.condition(text, strong_only=True)[2].endswith("at once")
    charges = (heeded["deposit"] | heeded["postage"]).intersection(words)
    of_charge = (
        bool(charges) and heeded["money"].isdisjoint(words) and lexicon.headings().rows["every"].isdisjoint(words)
    )
    return taxes.names_tax(words) and (two or of_charge or bool((tax["of_some"] | tax["margin"]).intersection(words)))


def is_tax_of_deposits_too(text: str) -> bool:
    """Whether a sentence says of prices and of deposits alike that the tax comes on top."""
    words, heeded = plain(text).split(), lexicon.headings().heeded
    before = words[: next((place for place, word in enumerate(words) if taxes.names_tax([word])), 0)]
    of_deposits, joined = heeded["deposit"] - {"exchange"}, heeded["and"] - {"plus"}
    said = {word in of_deposits for word in before if word in of_deposits | heeded["money"]}
    both = said == {True, False} and not joined.isdisjoint(before)
    return both and taxes.in_line(text) == "without"


def is_duty_in_too(text: str) -> bool:
    """Whether a line says in one breath of tax and duty that they are in the prices: "duty and VAT included"."""
    words, known = plain(text).split(), lexicon.headings()
    at = next((place for place, word in enumerate(words) if word in known.tax["words"]), 0)
    joined = known.heeded["duties"] | known.heeded["and"]
    before = list(takewhile(joined.__contains__, reversed(words[:at])))
    denied = not _NO_TAX.isdisjoint(words[: at - len(before)])
    return not known.heeded["duties"].isdisjoint(before) and not denied and taxes.in_line(text) == "with"


def is_untaxed(text: str, *, used: bool) -> bool:
    """Whether a line says that no tax comes on top of any price: its writer is not registered for it, or the goods, all
    of them ``used``, are sold under the margin scheme (articles 312 to 325 of directive 2006/112/EC).
    """
    words, tax = plain(text).split(), lexicon.headings().tax
    if taxes.in_line(text) == "without" or not tax["of_some"].isdisjoint(words) or _MONEY.search(text):
        return False
    if row_values.condition(text, strong_only=True)[0] not in (None, "salvage" if used else None):
        return False
    if not (lexicon.headings().heeded["deposit"] | lexicon.headings().heeded["postage"]).isdisjoint(words):
        return False
    place = next((place for place, word in enumerate(words) if word in tax["margin"]), None)
    by_scheme = place is not None and taxes.names_tax(words) and taxes.NOT.isdisjoint(words[:place])
    return (used and by_scheme) or _phrase("untaxed").search(plain(text)) is not None


def is_for_trade(text: str) -> bool:
    """Whether a line says that prices are those for the trade."""
    return _phrase("for_trade").search(plain(text)) is not None


def is_rate_alone(text: str) -> bool:
    """Whether a line names the tax and its rate, and nothing else."""
    known = lexicon.headings()
    words = set(plain(numbers.PERCENT.sub(" ", text)).split())
    passed = known.tax["words"] | known.tax["rate"] | known.tax["between"] | known.qualifiers["neutral"]
    return bool(numbers.PERCENT.search(text)) and taxes.names_tax(list(words)) and words <= passed


def is_price_of_one(text: str) -> bool:
    """Whether a line says that prices are for one piece, in which currency perhaps, and no more."""
    known, words = lexicon.headings(), set(map(lexicon.bare, plain(text).split()))
    one = known.qualifiers["apiece"]
    passed = known.rows["every"] | known.tax["between"] | known.qualifiers["neutral"] | known.qualifiers["per"]
    rest = {word for word in words - (passed - one) if not currencies.is_mark(word)}
    return not rest.isdisjoint(one) and rest <= one | known.heeded["money"] | {"priced"}


def is_of_packs_alone(text: str) -> bool:
    """Whether a line speaks of packs, and of neither pieces, figures nor prices: "full boxes only", "nur ganze VPE"."""
    known, words = lexicon.headings(), plain(text).split()
    others = known.heeded["money"] | known.prices["each"] | known.heeded["pieces"]
    counted = pieces.taken_out(words)[0] or any(map(str.isdigit, numbers.in_figures(text)))
    return others.isdisjoint(words) and not counted


def sold_whole(text: str) -> set[str]:
    """The words for packs, as ``lexicon.bare`` has them, that a line says are sold whole: "whole bags only"."""
    words, known = lexicon.bare(text).split() if len(text) < _LONGEST else [], lexicon.headings()
    if not (taxes.NOT | _NEITHER).isdisjoint(words) or _phrase("singly").search(plain(text)):
        return set()
    nouns = {behind for word, behind in pairwise(words) if word in known.heeded["entire"]}
    singular = nouns | {noun.removesuffix("s") for noun in nouns}
    return singular & {lexicon.bare(noun) for noun in known.prices["pack"]}


def is_sold_singly(text: str) -> bool:
    """Whether a line says that one piece can be bought, of however many the prices are."""
    said = plain(text) if len(text) < _LONGEST else ""
    return _phrase("singly").search(said) is not None and taxes.NOT.isdisjoint(said.split())


def _is_free(said: str) -> bool:
    """Whether plain words say that delivery costs nothing, and no more."""
    known = lexicon.headings()
    free = {phrase for phrase in known.prices["free"] if f" {phrase} " in f" {said} "}
    words = set(said.split()) - known.heeded["postage"] - known.qualifiers["neutral"]
    return bool(free) and words <= {word for phrase in free for word in phrase.split()}


def says_no_more(rest: str, goods: Set[str] = frozenset()) -> bool:
    """Whether what is left of a line says only that goods are in a condition, and how long a guarantee holds."""
    known = lexicon.headings()
    spans = known.cells["spans"]
    passed = goods | known.rows["goods"] | known.rows["every"] | spans["days"] | spans["months"] | spans["years"]
    words = {word for word in plain(rest).split() if not word.isdecimal()} - lexicon.conditions().weak.keys()
    return words <= passed and ("stock" not in words or bool(words & known.rows["every"]))  # new stock has just arrived


def without_times(text: str) -> str:
    """A text without the spans of time in it: "refunded within 28 days"."""
    return _TIME.sub(" ", text)


def is_time(text: str) -> bool:
    """Whether a line about delivery says how long it takes, and nothing of what it costs."""
    return _TIME.search(text) is not None and _MONEY.search(text) is None


def is_wait(cell: Value) -> bool:
    """Whether a cell is how long something takes, in words: "5 days"."""
    return isinstance(cell, str) and is_time(cell) and row_values.days(cell) is not None


def _is_money(text: str, words: set[str]) -> bool:
    heeded = lexicon.headings().heeded
    if words & (heeded["whole"] | heeded["duties"]) or (words & heeded["money"] and words & heeded["beside"]):
        return True
    if _MONEY.search(text) or _ON_TOP.search(text):
        return any(sign.isdigit() for sign in text)
    said = plain(text).split()
    figures = any(word.isdecimal() for word in said) and not _is_of_year(said)
    return figures and bool(words & heeded["money"] or any(map(currencies.is_mark, words)))


def _is_of_year(words: list[str]) -> bool:
    """Whether words are those of a title and of when it holds: "Trade price list November 2026"."""
    known = lexicon.headings()
    figures = "/".join(word for word in words if word.isdecimal())
    rest = {word for word in words if not word.isdecimal()}
    return _YEAR.fullmatch(figures) is not None and rest <= known.suppliers["of_titles"] | known.ordinary


def _is_number_of_firm(text: str, words: list[str]) -> bool:
    """Whether the word for tax stands before the number under which a firm is registered."""
    figures = max((len(each) for each in _NUMBER.findall(text.replace(" ", ""))), default=0)
    return bool(set(words) & lexicon.headings().heeded["tax_number"]) and figures >= 6 and "%" not in text
