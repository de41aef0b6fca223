"""How many pieces words say that a price is for: "per 100", "pair", "set of 4"."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache

from optimiser.quote_import import lexicon
from optimiser.quote_import.lexicon import plain

_OF = r"(?:of|von|de|van|di|da|med|om|à|a)"
_PER = r"(?:per|pro|je|par|por|za|pr)"
_PRICE = r"(?:price|preis|prix|prijs|precio|prezzo|cena|pris|preço)"
_FOR = r"(?:for|für|pour|voor|por|per|za|för)"
PRICE = re.compile(rf"\b{_PRICE}\b")
"""The word for a price."""
_PIECE = r"(?:pcs|pieces|pc|piece|stk|stück|stueck|stuks|pièces|piezas|pezzi|szt|sztuk|off|peças|nos|st|uds?|pz|un)"

BAND = re.compile(
    r"(?:^|(?<=\s))(?:(?:from|ab|qty|à partir de|dès|vanaf|desde|a partir de|da|od|från|fra|x) ?)?"
    r"(?P<pieces>\d{1,5}) ?(?:\+|[-\N{EN DASH}] ?\d{1,5}|or more|and over|up|off|et \+|et plus|und mehr|en meer"
    r"|y más|e più|i więcej|och uppåt|og derover|ou mais)?"
    r"(?: ?(?:pcs?|pieces?|off|stk|stück|stuecke?|st|szt|sztuk[ai]?|stuks?|pz|pezz[io]|piezas?"
    r"|pièces?|uds?|peças?|styck|un)\.?\+?)?$"
)
"""A number of pieces from which a price holds: "10+", "ab 10", "10-49"."""
ONE = re.compile(
    r"[\s,(-]+(?:(?:priced|price|sold) )?"
    r"(?:each|ea|apiece|single|per piece|stück|stk|(?:à )?l.unité|pièce|stuk|szt)\.?\)?$",
    re.IGNORECASE,
)
"""What stands behind a name whose price is for one."""


_COUNT = re.compile(
    r"(?<![^\s(])(?<!no )(?<!nr )(?<!row )(?<!bay )(?<!page )(?<!size )(?<!type )(?<!in )(?:[2-9]|[1-4]\d)"
    r"(?= (?:at|in|to|per|tegelijk|zusammen|ensemble|juntos|insieme|razem|tillsammans|sammen|juntas|of|op|au|en|je)\b)",
    re.IGNORECASE,
)
"""A small number of things in or to something, and not that of a place, a page or a size."""
_TIMES = re.compile(
    r"(?<!\w)(?:(\d{1,3})\s?(?:@|[x\N{MULTIPLICATION SIGN}](?!\s?\d\d))"
    r"|(?<!\d\d )[x\N{MULTIPLICATION SIGN}]\s?(\d{1,3}))(?!\w)",
    re.IGNORECASE,
)
_BRACKET = re.compile(r"\((\d{1,2})()\b")
AT = re.compile(r"\d\s?@|@\s?[£€$]?\s?\d")
"""So many at so much, as a till has it: "4 @ 3.10"."""


_UNIT = r"(?P<unit>m|mtrs?|met(?:er|re)s?|lfm|mètres?|metros?|metri?|l|ltr|lit(?:er|re)s?|litros?|litri|kg|kilos?|ft)"
_PER_UNIT = r"\b(?:per|pro|je|par|por|al|au|le|la|il|el|za|pr|by the|the|running|a(?=\s\w\w))\s"
MEASURE = re.compile(rf"(?:{_PER_UNIT}|^(?=\w\w+$)|(?:[\d£€$]|{_PRICE})\s?/\s?){_UNIT}\b", re.IGNORECASE)
"""A price that is for a length or an amount of which a job may need more or less: "4.50/m", "le mètre"."""


@cache
def _patterns() -> tuple[tuple[re.Pattern[str], int | None], ...]:
    words = lexicon.headings().prices
    holders = "|".join(sorted((re.escape(each) for each in words["pack"]), key=len, reverse=True))
    pairs = "|".join(sorted((re.escape(each) for each in words["pair"] - {"para", "par"}), key=len, reverse=True))
    short = "|".join(sorted((re.escape(each) for each in words["holders"]), key=len, reverse=True))
    return (
        (re.compile(rf"\b(?:{holders}|{short}) (?:{_OF} )?(\d{{1,5}}) {_PIECE}\b"), None),
        (re.compile(rf"\b(?:{holders}|{short}) {_OF} (\d{{1,5}})(?: {_PIECE})?\b"), None),
        (re.compile(rf"\b{_PER} (\d{{1,5}})(?: {_PIECE})?\b"), None),
        (re.compile(rf"\b{_PRICE} {_FOR} (\d{{1,5}})(?: {_PIECE})?\b"), None),
        (re.compile(rf"\b(\d{{1,5}}) ?(?:pack|er (?:pack|set|satz)|{_PIECE})\b(?: set)?"), None),
        (re.compile(rf"\b(?:(?:price|{_PER}) )?(?:{pairs}|{_PER} (?:pair|paar|paire|par|pr))\b"), 2),
        (re.compile(r"\b(?:per )?(?:dozen|doz)\b"), 12),
        (
            re.compile(
                r"\b(?:le|au|du|par|al|il|el|o) cent(?:o|inaio)?\b|\b(?:per|a) hundred\b|\b(?:pro|je) hundert\b"
            ),
            100,
        ),
        (re.compile(r"\b(?:le|au|du|par|al|il|el|o) mil(?:le)?\b|\b(?:per|a) thousand\b|\b(?:pro|je) tausend\b"), 1000),
    )


def taken_out(words: Sequence[str]) -> tuple[int, list[str]]:
    """The pieces that the words name (0: none), and the words without them; "price" stays where it stood."""
    said = " ".join(words)
    for pattern, fixed in _patterns():
        found = pattern.search(said)
        if found:
            count = fixed if fixed is not None else int(found[1])
            if count:
                kept = f" {found[0].split()[0]} " if PRICE.match(found[0]) else " "
                return count, (said[: found.start()] + kept + said[found.end() :]).split()
    return 0, list(words)


def likely(text: str) -> int:
    """The pieces that a name may speak of: as ``in_name`` has it, or before or behind an x; else one."""
    found = _TIMES.search(text) or _BRACKET.search(text)
    return in_name(text)[0] or (int(next(filter(None, found.groups()))) if found else 1)


_PAIR = re.compile(r"\s\(par(?:a)?\)|, par(?:a)?$", re.IGNORECASE)
"""A pair, where the same word may say "for"."""


def in_name(text: str) -> tuple[int, str]:
    """The pieces that the name of a part speaks of, and the name without them."""
    count, rest = taken_out(plain(_PAIR.sub(" paar", text)).split())
    return count, " ".join(rest)


def small_count(text: str) -> bool:
    """Whether a remark holds a small number that may be one of pieces."""
    return len(_COUNT.findall(text)) == 1


def small_number(rest: str) -> str:
    """A name that a small number is left of: pieces, for all that is known."""
    left = rest.split()
    small = len(left) == 1 and re.fullmatch(r"x?\d{1,2}x?", left[0])
    return "pack" if small else ""
