"""Which part and which supplier a row means, and what stays of its words."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cache
from itertools import takewhile, zip_longest
from pathlib import PurePath

from optimiser.job_folder.problems import shown
from optimiser.model.imports import How, Known, Told, Why
from optimiser.model.quotes import Condition
from optimiser.names import id_for
from optimiser.quote_import import heeding, lexicon, pieces, row_values
from optimiser.quote_import.lexicon import plain
from optimiser.quote_import.matching import Match, Names
from optimiser.quote_import.part_names import Dictionary
from optimiser.quote_import.row_price import SetAsideError

_MOST_NEW = 500
"""Suppliers that no list knows, up to which spellings of them are compared."""
_LEAD_IN = re.compile(r"^.*\b(?:from|by)\s+(?=\S)", re.IGNORECASE)
"""What may stand before the name of a firm in the line that names it: "Your quote from ..."."""
_FROM = re.compile(r"^(.*?)\b(?:from|by|von|van|från|fra|od)\s+(?=[^\W\d_])", re.IGNORECASE)
_FROM_IN_DUTCH = re.compile(r"^van:\s+", re.IGNORECASE)
"""Before the name of whoever writes, or, in English, before that of a van: what it is, the name itself tells."""
BEHIND_NAME = re.compile(r"\s[-\N{EN DASH}|]\s|,\s")
"""What ends the name of a firm in a line that goes on: "Okel Yard - parts and spares"."""
_GOODS = frozenset({"parts", "spares"})
"""Words of a title that a name has too, where the file is called the same."""
_NUMBER = r"\d{1,4}(?:[.,]\d{1,2})?"
KIT = "kit"
_SIZE = re.compile(
    rf"(?<![\w.,])(?:{_NUMBER}\s?{heeding.BY}\s?)*{_NUMBER}\s?"
    r"(?:mm|cm|m|in|inch(?:es)?|zoll|ft|v|volts?|w|watts?|ah|a|amps?|kw|kg|g|l/min|l/h|l|lt|ltr|lit(?:re|er)s?|ml|bar)(?!\w)"
    rf"|(?<![\w.,])\d\d+(?:\s?{heeding.BY}\s?\d\d+){{1,2}}(?: links)?(?!\w|[.,]\d)"
    rf"|\bM\d{{1,2}}(?:\s?{heeding.BY}\s?{_NUMBER}){{0,2}}(?!\w)|(?<!\w)\d:\d(?!\w)"
    r"|(?:(?<=R\d\d )|(?<=R\d\dC ))\d{2,3}(?:/\d{2,3})?[A-Z](?!\w)",
    re.IGNORECASE,
)
"""A size with its unit: "22in", "12 V", "280 x 22 mm", "40 x 40"; a thread "M12", a ratio "2:1"; what a tyre bears."""
_DONOR = re.compile(r"[\s,(]+((?:taken |removed )?(?:off|from)|ex)\s+(?=\S)", re.IGNORECASE)
_LISTS = frozenset({"list", "lists", "catalogue", "quote", "quotes"})
_LISTS_BEHIND = ("lijst", "liste", "lista", "lager", "avis", "katalog", "angebot", "tilbud")
"""Ends of a word that names a list."""
_LONGEST_QUESTION = 3
"""Letters of "who" and its like, which are headings of suppliers and no labels."""
_LONGEST_GREETING, _LINES_SIGNED = 4, 2
"""Words of a greeting, and lines behind it in which whoever wrote it is named."""
_LONGEST_FIRM = 8
"""Words of a line that is a firm's name and nothing else."""


class Parts:
    """Finds the job's part that a row means; every text is looked up once."""

    def __init__(self, known: Known, told: Told) -> None:
        self.names = Names(known.parts, told.parts)
        self.dictionary = Dictionary(known.parts)
        self.close: dict[str, Match] = {}
        self.sizes: dict[str, dict[str, str]] = defaultdict(dict)
        """By part the sizes and kinds that its rows name and its own names do not, each with the text of a row."""
        self._titles = known.parts
        self._found: dict[str, Match | None] = {}

    def of_row(self, texts: Sequence[str], ref: str, side: str = "") -> tuple[Match | None, str]:
        """The part, and the text that named it; ``side`` is said of it by the column of its price or its own.

        Raises ``SetAsideError`` where two texts name two parts.
        """
        found = [(match, text) for text in texts if (match := self._find(f"{text} {side}".strip())) is not None]
        told = self.names.told_for(ref) if ref else None
        if told is not None:
            return Match(told, How.ALIAS), ref
        sure = [pair for pair in found if pair[0].how is not How.CLOSE] or found
        if len({match.id for match, _ in sure}) > 1:
            raise SetAsideError(Why.PART, f"names two parts: {' and '.join(sorted({m.id for m, _ in sure}))}")
        if not sure:
            return None, f"{texts[0]} {side}".strip() if texts else ""
        match, text = sure[0]
        if match.how in (How.CLOSE, How.SYNONYM):
            self.close.setdefault(text, match)
        self.sizes[match.id].setdefault(_sizes_in(text), text)
        return match, text

    def _find(self, text: str) -> Match | None:
        if text not in self._found:
            plainly, bare = _different(_names(text)), _different(_bare_names(text))
            same = next((match for name in plainly if (match := self.names.find(name))), None)
            self._found[text] = same or self._in_other_words(plainly, bare)
        return self._found[text]

    def _in_other_words(self, plainly: Sequence[str], bare: Sequence[str]) -> Match | None:
        """The part that a name stands for by the dictionary, or without its size and what it was taken off."""
        parts = [match.id for name in bare if (match := self.names.find(name))]
        parts += filter(None, (self.dictionary.find(name) for name in (*plainly, *bare)))
        return Match(parts[0], How.SYNONYM) if parts else None

    def is_told(self, text: str) -> bool:
        """Whether a person said which part a text names."""
        return self.names.told_for(text) is not None

    def is_named(self, text: str) -> bool:
        """Whether a text is the name of a part of the job."""
        return self._find(text) is not None

    def is_named_in(self, text: str) -> bool:
        """Whether a text is the name of a part of the job, or holds that of one."""
        return self._find(text) is not None or self.names.named_in(text) is not None

    def may_be_named_in(self, text: str) -> bool:
        """Whether a text is or holds the name of a part of the job, or words that stand for one beside others."""
        return self.is_named_in(text) or bool(self.dictionary.among(text))

    def may_be(self, text: str) -> str | None:
        """The part that a name may stand for, though its words have other meanings as well."""
        return next((part for name in self.spellings(text) if (part := self.dictionary.may_be(name))), None)

    def shortened(self, text: str) -> tuple[str, ...]:
        """The parts whose words hold all those of a name, whatever is said of it in praise; none of another size."""
        found, size = next(filter(None, map(self.dictionary.shortened, self.spellings(text))), ()), _sizes_in(text)
        own = {part: _sizes_in(self._titles.get(part, "") or part) for part in found}
        return tuple(part for part in found if not (size and own[part]) or size == own[part])

    @staticmethod
    def spellings(text: str) -> tuple[str, ...]:
        """The name as it stands, and without what it was taken off, its condition, pieces, size, kind and praise."""
        return (*_names(text), *_bare_names(text))

    def besides(self, text: str, part: str) -> str:
        """The words of a name that neither the part's own names have nor the condition takes."""
        if any(self.dictionary.find(name) == part for name in (text, plain(text))):
            return ""
        own = {*self.names.comparable(part).split(), *self.names.comparable(self._titles.get(part, "")).split()}
        bare = _any("kinds").sub(" ", _any("praise").sub(" ", _without_one(text)))
        _, rest, _ = row_values.condition(bare, strong_only=True)
        return " ".join(word for word in plain(rest).split() if not own & {word, word.removesuffix("s")})

    def words_of(self, part: str) -> set[str]:
        """The words of a part's title, or of its id where it has none."""
        return set(self.names.comparable(self._titles.get(part, "") or part).split())

    def pieces(self, text: str, part: str) -> int:
        """The pieces that the name of a row speaks of and the part's own names do not; 0 where it speaks of none.

        Of a kit that is one for the job too they are what is in it: "Clutch kit 3pc".
        """
        count, _ = pieces.in_name(text)
        own = any(pieces.in_name(name)[0] for name in (part, self._titles.get(part, "")))
        in_kit = KIT in plain(text).split() and KIT in self.words_of(part)
        return 0 if own or in_kit else count


def _names(text: str) -> Iterator[str]:
    """The name as it stands, without its condition, without its pieces, without either."""
    _, rest, _ = row_values.condition(text, strong_only=True)
    yield from (text, rest)
    yield from (pieces.in_name(name)[1] for name in (text, rest))


def _bare_names(text: str) -> Iterator[str]:
    """The name without what it was taken off, its size and kind, and the word that says that it is for one."""
    of_size = _in_brackets("materials").sub(" ", _SIZE.sub(" ", _without_one(_of_donor(text))))
    bare = _any("kinds").sub(" ", _any("praise").sub(" ", of_size))
    if bare != text:
        yield from _names(bare)


@cache
def _any(kind: str) -> re.Pattern[str]:
    return lexicon.any_of(lexicon.headings().names[kind])


@cache
def _in_brackets(kind: str) -> re.Pattern[str]:
    return re.compile(rf"[(\[]\s?{_any(kind).pattern}\s?[)\]]", re.IGNORECASE)


def _different(names: Iterable[str]) -> list[str]:
    """The names that differ in more than capitals and signs."""
    return list({plain(name): name for name in names if name}.values())


def _sizes_in(text: str) -> str:
    """The sizes and the kinds that a name speaks of, without spaces."""
    said = text.casefold()
    patterns = (_SIZE, _any("kinds"), _in_brackets("materials"))
    return " ".join(found.replace(" ", "") for pattern in patterns for found in pattern.findall(said))


def _of_donor(text: str) -> str:
    """A name without what the part was taken off, where that says nothing of a side: "off a 2010 van"."""
    name, _, donor = _DONOR.split(text, maxsplit=1) if _DONOR.search(text) else (text, "", "")
    return text if lexicon.headings().sides.keys() & set(plain(donor).split()) else name


def _without_one(text: str) -> str:
    """A name without the word behind it that says that it is for one: "Brake disc (each)"."""
    return pieces.ONE.sub("", text)


def condition_of(
    said: str, texts: Sequence[str], told: Condition | None, otherwise: Condition | None = None
) -> Condition:
    """The condition: by its column, else as told, else by words of the part or the note, or ``otherwise``.

    Raises ``SetAsideError`` where none is known or two are said.
    """
    if said:
        found, _, why = row_values.condition(said)
        if found is None:
            raise SetAsideError(Why.CONDITION, f"the condition {shown(said)}: {why}", said)
        return found
    if told is not None:
        return told
    read = [row_values.condition(text, strong_only=True) for text in texts]
    named = {found for found, _, _ in read if found is not None}
    broken = next((why for found, _, why in read if found is None and ("at once" in why or "not working" in why)), "")
    if len(named) > 1 or broken:
        raise SetAsideError(Why.CONDITION, broken or f"says {' and '.join(sorted(named))} at once")
    if not named and otherwise is not None:
        return otherwise
    if not named:
        raise SetAsideError(Why.CONDITION, "nothing says whether it is new, refurbished or salvage")
    return named.pop()


class Suppliers:
    """Finds the supplier of a row, by the job's list or, for one that is not on it, by its first spelling."""

    def __init__(self, known: Known, told: Told) -> None:
        endings = lexicon.headings().suppliers["endings"]
        self._listed = Names(known.suppliers, told.suppliers, endings)
        self._new = Names({}, {}, endings)
        self.new: dict[str, str] = {}
        self.close: dict[str, Match] = {}
        self.by_line = ""
        """The line above the headings that was taken for the supplier's name by its ending."""
        self._found: dict[str, str] = {}

    def find(self, written: str) -> str:
        """The supplier's id. Raises ``SetAsideError`` for a name of signs alone."""
        if written not in self._found:
            self._found[written] = self._find(written)
        return self._found[written]

    def _find(self, written: str) -> str:
        match = self.is_listed(written) or (self._new.find(written) if len(self.new) <= _MOST_NEW else None)
        if match is not None:
            if match.how is How.CLOSE:
                self.close[written] = match
            return match.id
        name = id_for(self._new.comparable(written))
        if not name:
            raise SetAsideError(Why.SUPPLIER, f"a supplier called {shown(written)}")
        if name not in self.new:
            self.new[name] = written
            self._new.add(name, written)
        return name

    def is_name_of(self, text: str, supplier: str) -> bool:
        """Whether a text is the name of a supplier, as at the end of a letter, and nothing else."""
        listed = self.is_listed(text)
        return bool(supplier) and supplier == (listed.id if listed else id_for(self._new.comparable(text)))

    def is_listed(self, written: str) -> Match | None:
        """The supplier of the job's list that is meant, if any."""
        return self._listed.find(written) or self._listed.shortened(written)

    def is_firm(self, text: str) -> bool:
        """Whether a text is the name of a supplier of the job's list, or has a word for a firm behind a name."""
        words = plain(text).split()
        of_trade = (
            lexicon.headings().of_firms.union(lexicon.headings().suppliers["endings"], _GOODS).intersection(words)
        )
        return bool(self.is_listed(text)) or (len(words) > 1 and bool(of_trade) and not _is_ordinary(words))

    def are_several(self, texts: Iterable[str]) -> bool:
        """Whether two of the texts or more are names of firms, which together are the name of none."""
        return sum(map(self.is_firm, texts)) > 1

    def may_be_firm(self, text: str) -> bool:
        """Whether a text is a firm's name, or a name of words with capitals that mean nothing here."""
        words = plain(text).split()
        unknown = lexicon.ordinary_words().isdisjoint(map(lexicon.bare, words))
        return self.is_firm(text) or (
            0 < len(words) < _LONGEST_FIRM and unknown and all(map(_is_of_name, text.split()))
        )

    def met(self, told: Mapping[str, str]) -> dict[str, str]:
        """Those of the spellings told that were looked up."""
        return self._listed.met(told)

    def listed_in(self, lines: Iterable[str]) -> str:
        """The one supplier of the job's list that lines of text name; empty where none or several are."""
        found = {name for line in lines if (name := self._listed.named_in(line)) is not None}
        return found.pop() if len(found) == 1 else ""

    def named_by(self, line: str) -> str:
        """The supplier that a line by itself names: after a label or a title, or as the job's list has it."""
        label, colon, name = _without_private(line).partition(":")
        if colon and is_label(label) and name.strip() and not _is_date(name):
            return self.find(name.strip())
        if firm := _from_whom(line):
            return self.find(firm)
        listed = self.is_listed(line)
        return listed.id if listed is not None else ""

    def letterhead(self, lines: Iterable[str], by_name: str = "") -> str:
        """The supplier that the lines above the headings name: by a label, as listed, or as the name of a firm.

        A name without a word for a firm in it counts where the file's own name (``by_name``) is the same, says nothing,
        or has ordinary words alone: "brakes", "revisionati".
        """
        by_name = "" if is_of_trade(by_name) else by_name
        own = [_FROM_IN_DUTCH.sub("", line) for line in _addressed_to_nobody(list(lines))]
        labelled = {self.named_by(line) for line in own if ":" in line} - {""}
        found = labelled or {self.listed_in(own)} - {""}
        if not found:
            firms = [_LEAD_IN.sub("", line) for line in own if _is_firm(line)]
            firms = firms or list(filter(None, map(_from_whom, own))) or list(_titles(own, by_name))
            found = {self.find(line) for line in firms[:1]}
            self.by_line = firms[0] if firms else ""
        return found.pop() if len(found) == 1 else ""

    def signed_by(self, lines: Sequence[str]) -> str:
        """The supplier whose name stands behind a greeting at the end of a letter; empty where none does."""
        for place, line in enumerate(lines):
            words = plain(line).split()
            if len(words) <= _LONGEST_GREETING and not lexicon.headings().suppliers["greetings"].isdisjoint(words):
                behind = list(filter(None, lines[place + 1 :]))[:_LINES_SIGNED]
                named = [each for each in behind if self.is_firm(each)] or list(filter(self.may_be_firm, behind))
                self.by_line = named[0] if named else ""
                return self.find(named[0]) if named else ""
        return ""

    def strange_name(self, lines: Iterable[str], by_name: str) -> str:
        """A name above the headings that may be that of the supplier, and is not the one in the file's name."""
        names = (name for name in _titles(list(_addressed_to_nobody(list(lines))), "") if len(name.split()) > 1)
        return next((name for name in names if not _is_ordinary(plain(name).split()) and name != by_name), "")

    def likeliest(self, lines: Iterable[str]) -> str:
        """The first line above the headings that has a word in it which means nothing here: what may be a name."""
        for line in _addressed_to_nobody(list(lines)):
            name = _LEAD_IN.sub("", BEHIND_NAME.split(_without_private(line))[0]).rpartition(":")[2].strip()
            strange = {word for word in plain(name).split() if word.isalpha() and not _is_ordinary([word])}
            if strange and len(name.split()) < _LONGEST_FIRM and not heeding.kind(name):
                return name
        return ""


def _is_firm(line: str) -> bool:
    """Whether a line is a firm's name by its ending ("Ltd", "GmbH")."""
    words = plain(line).split()
    endings = lexicon.headings().suppliers["endings"] - {"the", "uk", "co", "company"}
    return 1 < len(words) < _LONGEST_FIRM and words[-1] in endings


def is_label(text: str) -> bool:
    """Whether the name of a supplier stands behind a text: "Sold by", or a heading of suppliers."""
    known, said = lexicon.headings(), plain(text)
    return said in known.suppliers["labels"] or (
        len(said) > _LONGEST_QUESTION and known.columns.get(said) == "supplier"
    )


def _is_date(text: str) -> bool:
    """Whether a text has figures and months in it, and nothing else: what stands behind "Från" may be a day."""
    months = frozenset().union(*lexicon.headings().cells["dates"].values())
    return all(word.isdecimal() or any(month.startswith(word) for month in months) for word in plain(text).split())


def _without_private(line: str) -> str:
    """A line without brackets at its end that say that its writer is no firm."""
    name, bracket, said = line.rpartition("(")
    said_of_writer = {plain(said), *map(plain, said.split(","))}
    return line if lexicon.headings().suppliers["private"].isdisjoint(said_of_writer) or not bracket else name.strip()


def _from_whom(line: str) -> str:
    """The name behind a title that says whose it is: "Prices from Ashdown Motors"; empty where it is none."""
    known, found = lexicon.headings(), _FROM.match(line)
    name = BEHIND_NAME.split(line[found.end() :])[0].strip() if found else ""
    said = plain(name).split()
    lead = {word for word in plain(found[1]).split() if not word.isdecimal()} if found else set()
    fits = 0 < len(said) < _LONGEST_FIRM and name[0].isupper() and all(map(_is_of_name, name.split()))
    return (
        name
        if fits and lead <= known.suppliers["of_titles"] | known.qualifiers["neutral"] and not _is_ordinary(said)
        else ""
    )


def _addressed_to_nobody(lines: Sequence[str]) -> Iterator[str]:
    """The lines without those that say whom the sheet is for, in the line itself or in the end of the one before."""
    to_whom, before = lexicon.headings().suppliers["to_whom"], ""
    for line in lines:
        words = plain(line).split()
        if to_whom.isdisjoint((*words[:-1], before)) or _from_whom(line):  # "for sale by"
            yield line
        before = words[-1] if words else ""


def _titles(lines: Sequence[str], by_name: str) -> Iterator[str]:
    """Lines that are a name and nothing else: few words with capitals, and no word of a title or about money.

    Words of a title before the name of a firm are taken off: "Price list Ashdown Motors".
    """
    known = lexicon.headings()
    for line in (_subject(line) or line for line in lines):
        named, *behind = _named_first(line)
        words = named.split() if behind and all(map(_is_title, behind)) else line.split()
        if known.of_firms.intersection(plain(named).split()):
            words = _without_title(named.split())
        said = plain(" ".join(words)).split()
        of_name = [word for word in words if not (word.islower() and plain(word) in known.of_firms)]
        if not 0 < len(said) < _LONGEST_FIRM or not all(map(_is_of_name, words if _is_ordinary(said) else of_name)):
            continue
        firm = len(said) > 1 and (bool(known.of_firms.intersection(said)) or _is_trading_in(said))
        titles = known.suppliers["of_titles"] - (_GOODS if set(by_name.split()).intersection(said) else frozenset())
        if firm or (not titles.intersection(said) and _is_bare_name(line, said, by_name)):
            yield " ".join(words)


def _named_first(line: str) -> list[str]:
    """The pieces of a line from the name on: "Used parts - Okel Yard" has what is sold before it."""
    pieces_of_line = BEHIND_NAME.split(line)
    if _is_ordinary(plain(pieces_of_line[0]).split()):
        of_firms = lexicon.headings().of_firms
        words = [plain(each).split() for each in pieces_of_line]
        for at, said in enumerate(words[1:], start=1):
            if len(said) > 1 and of_firms.intersection(said) and not _is_ordinary(said):
                return pieces_of_line[at:]
    return pieces_of_line


def _subject(line: str) -> str:
    """The firm of whom a sentence speaks that begins with its name: "Okel Breakers sent this"."""
    named = list(takewhile(lambda word: word[0].isupper(), line.split()))
    behind = line.split()[len(named) :]
    is_firm = len(named) > 1 and plain(named[-1]) in lexicon.headings().of_firms and not _is_ordinary(map(plain, named))
    return " ".join(named) if is_firm and behind and behind[0].isalpha() else ""


def _is_title(text: str) -> bool:
    """Whether a text has words of titles and figures, and no others: "order 55120"."""
    return lexicon.headings().suppliers["of_titles"].issuperset(w for w in plain(text).split() if not w.isdecimal())


def _is_trading_in(words: Sequence[str]) -> bool:
    """Whether goods stand behind a word of no trade: "Penrose Car Parts" is a name, "Brake parts" is none."""
    titles = lexicon.headings().suppliers["of_titles"] - _GOODS
    fits = not _GOODS.isdisjoint(words[1:]) and titles.isdisjoint(words) and not heeding.kind(" ".join(words))
    return fits and lexicon.bare(words[0]) not in lexicon.ordinary_words()


def _is_ordinary(words: Iterable[str]) -> bool:
    return (lexicon.ordinary_words() | lexicon.headings().heeded["money"]).issuperset(map(lexicon.bare, words))


def _without_title(words: list[str]) -> list[str]:
    titles, firms = lexicon.headings().suppliers["of_titles"], lexicon.headings().of_firms
    while words and plain(words[0]) in titles - firms:
        words = words[1:]
    while words and plain(words[-1]) in titles - firms - _GOODS:
        words = words[:-1]
    return words


def _is_bare_name(line: str, words: Sequence[str], by_name: str) -> bool:
    """A name without a word for a firm in it, which says nothing of money or of a condition."""
    silent = not heeding.kind(line) and row_values.condition(line, strong_only=True)[0] is None
    return silent and (not by_name or not set(by_name.split()).isdisjoint(words))


def _is_of_name(word: str) -> bool:
    """Whether a word may stand in a name: with a capital, short as "of" and "du", or a sign; no number."""
    fits = word[0].isupper() or len(word) < 4 or not word[0].isalpha()
    return fits and not any(map(str.isdigit, word))


def of_file_name(name: str) -> str:
    """What the name of a file says of a firm: without dates, figures and words such as "prices" or "parts list".

    Words for goods and a condition, and no others, name none: "pieces occasion".
    """
    pieces_of_name = [plain(re.sub(r"\d+", " ", each)).split() for each in BEHIND_NAME.split(PurePath(name).stem)]
    untitled = [each for each in pieces_of_name if each and not _is_of_file(each[-1])]
    words = [word for each in untitled or pieces_of_name for word in each]  # "Autumn offers - Pellow Parts"
    kept = [
        word
        for word, after in zip_longest(words, words[1:], fillvalue="")
        if not (_is_of_file(word) or (word == "parts" and after in _LISTS))
    ]
    says_state = row_values.condition(" ".join(kept), strong_only=True)[0] is not None
    if (_is_ordinary(kept) and says_state) or (_GOODS | {"spare", "used"}).issuperset(kept):
        return ""
    return " ".join(kept) if len("".join(kept)) > 2 else ""


def is_of_trade(name: str) -> bool:
    """Whether the name of a file has words of the trade alone, which may be any supplier's: "factor", "wreckers"."""
    words = name.split()
    return _is_ordinary(words) or (len(words) == 1 and name in lexicon.headings().of_firms)


def _is_of_file(word: str) -> bool:
    """Whether a word in the name of a file names no firm, alone or behind others: "onderdelenlijst"."""
    return word in lexicon.headings().suppliers["of_files"] or word.endswith(_LISTS_BEHIND)
