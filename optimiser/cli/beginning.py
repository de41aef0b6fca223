"""The verbs that start a job and add to it: begin, add."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from optimiser import calls
from optimiser.calls import add_by_no_pattern, call
from optimiser.cli import shell
from optimiser.cli.app import SEVERITIES, answer, job_and_words, json_option, program, today
from optimiser.cli.writing import ask, somebody_is_there
from optimiser.errors import CallError, WordsError
from optimiser.text import in_shell

if TYPE_CHECKING:
    from optimiser.model.job import Job
    from optimiser.money import Currency
    from optimiser.patterns import Pattern, Said, Wanted
    from optimiser.show.begun import LeftOut
    from optimiser.starting import NewJob

T = TypeVar("T")
NONE_OF_THESE = "none of these"
USUAL_CURRENCY = "GBP"
DANGER = "Dangerous: somebody may be hurt if it fails."
HOW_GRAVE = f"How grave is it? {DANGER}"
WORKSHOP_ASKS = "What does the workshop ask?"
GRAVITIES = ["dangerous", "major", "minor"]
severity_option = click.option("--severity", type=SEVERITIES, help="How grave it is, if not as the pattern has it.")


@program.command(short_help="A new job folder, from what is wrong in plain words.")
@click.argument("folder", metavar="FOLDER", type=click.Path(path_type=Path))
@click.option("--title", metavar="TEXT", help="What it is, if not as the folder is called.")
@click.option("--currency", metavar="CODE", help="The currency by its three letters (default GBP).")
@click.option("--pot", metavar="AMOUNT", help="The whole pot of money, the purchase included.")
@click.option("--purchase", metavar="AMOUNT", help="What it was bought for (default 0).")
@click.option("--hours", type=click.FloatRange(min=0), help="Your hours for it, if they are limited.")
@click.option("--fault", "faults", metavar="WORDS", multiple=True, help="What is wrong, as WORDS[:PLACE][:SEVERITY]; as often as needed.")  # noqa: E501 # fmt: skip
@json_option
def begin(folder: Path, faults: tuple[str, ...], as_json: bool, **said: Any) -> None:
    """Make a job folder that can be planned at once: faults by patterns, with rough prices until shops have quoted.

    On a terminal it asks for what is not said.
    """
    from optimiser import starting

    known = starting.patterns()
    head = _head(folder, said)
    calls.are_about(folder)
    wanted = _all_wanted(faults, known, folder, head)
    left_out: list[LeftOut] = []
    if not as_json and somebody_is_there() and not faults:
        wanted, left_out = _asked(known, head.title)
    job, names = starting.begin(folder, head, wanted, today())
    _answer(as_json, folder, job, names, wanted, left_out)


@program.command(short_help="One more fault into a job, from plain words.")
@click.argument("words", nargs=-1, metavar="[JOB] WORDS", shell_complete=shell.words)
@click.option("--place", "places", multiple=True, metavar="PLACE", help="Where it is, such as front or left; both.")
@severity_option
@click.option("--as", "name", metavar="ID", default="", help="The id that the fault gets.")
@click.option("--plain", is_flag=True, help="By no pattern: one way to put it right, with --chance and --price.")
@click.option("--chance", type=click.FloatRange(0, 1), default=0.9, show_default=True, help="Of a plain fault: that it is cured.")  # noqa: E501 # fmt: skip
@click.option("--price", metavar="AMOUNT", help="Of a plain fault: what putting it right costs (default 0).")
@click.option("--to", "fault", metavar="FAULT", help="Not a fault, but one more way to put that one right, with --chance and --price.")  # noqa: E501 # fmt: skip
@click.option("--workshop", "by_workshop", is_flag=True, help="With --plain or --to: a workshop does it.")
@click.option("--minutes", type=click.IntRange(min=0), default=0, metavar="MINUTES", help="With --plain or --to: your own time for it.")  # noqa: E501 # fmt: skip
@click.option("--system", "systems", multiple=True, metavar="NAME", help="Of a plain fault: what it is about, such as brakes, if its words do not say.")  # noqa: E501 # fmt: skip
@json_option
def add(words: tuple[str, ...], plain: bool, as_json: bool, **said: Any) -> None:
    """Add a fault at the end of job.toml, or a way to put one right; nothing that stands there is touched."""
    folder, rest = job_and_words(words)
    from optimiser import job_folder, starting

    job_folder.must_be_job_folder(folder)
    if not rest:
        raise CallError("What is wrong?", f'Say it in plain words: {call("add")} "blower dead"')
    if said["fault"] is not None:
        if plain or said["places"] or said["severity"] or said["name"] or said["systems"]:
            raise CallError(
                "A way to put a fault right has no place, gravity or name of its own.",
                "With --to say only --price, --chance, --minutes and --workshop.",
            )
        _add_way(folder, " ".join(rest), said, as_json)
        return
    if not plain and (said["by_workshop"] or said["minutes"] or said["systems"]):
        raise CallError(
            "--workshop, --minutes and --system tell of a plain fault, or of a way to put one right.",
            "Say --plain, or of which fault: --to FAULT.",
        )
    if plain:
        fault: Any = _plain(folder, " ".join(rest), said)
    else:
        text = ":".join([" ".join(rest), *said["places"], *filter(None, [said["severity"]])])
        telling = _Telling(starting.patterns(), starting.about(folder, today()), f"{call('add')} ", name=said["name"])
        fault = _wanted(text, telling)
    _answer(as_json, folder, starting.add(folder, fault, today()), (), [fault])


def _price_minor(said: dict[str, Any], currency: Currency) -> int:
    """What putting a fault right costs, nothing where it is not said."""
    from optimiser import money

    _amounts_or_wrong({"--price": said["price"]}, currency)
    return money.given("0" if said["price"] is None else said["price"], currency)


def _add_way(folder: Path, title: str, said: dict[str, Any], as_json: bool) -> None:
    """One more way to put right a fault of the job."""
    from optimiser import service, starting
    from optimiser.cli.app import read_moment
    from optimiser.show import begun

    known = read_moment(folder).job
    fault = service.find_fault(known, said["fault"])
    if said["by_workshop"] and said["price"] is None:
        raise CallError(WORKSHOP_ASKS, "Say it with --price, 0 if it asks nothing.")
    price_minor = _price_minor(said, known.currency)
    way = starting.Way(title, said["chance"], price_minor, said["minutes"], said["by_workshop"])
    job = starting.add_way(folder, fault.id, way, today())
    row = way.row(job.currency)
    answer(
        as_json,
        lambda: begun.way_document(folder, job, fault, row),
        lambda out: begun.show_way(out, job, fault, row),
    )


def _answer(
    as_json: bool, folder: Path, job: Job, names: Sequence[str], added: Sequence[Any], left_out: Sequence[LeftOut] = ()
) -> None:
    """What was written, added and left out."""
    from optimiser.show import begun

    put_in = [begun.PutIn(name, fault.by, fault.made_light) for fault in added for name in fault.ids]
    answer(
        as_json,
        lambda: begun.document(folder, job, names, put_in),
        lambda out: begun.show(out, folder, job, names, put_in, left_out),
    )


def _head(folder: Path, said: dict[str, Any]) -> NewJob:
    """What the job says beside its faults, asked for on a terminal where it is not said."""
    from optimiser import money
    from optimiser.names import slug
    from optimiser.starting import NewJob

    asking = said["pot"] is None and somebody_is_there()
    if said["pot"] is None and not asking:
        faults = '--fault "blower dead" --fault "front brakes grind"'
        example = f"optimiser begin {in_shell(str(folder))} --pot 1600 --purchase 1100 {faults}"
        raise CallError("How much money is there, the purchase included?", f"Say it with --pot: {example}")
    usual = folder.resolve().name.replace("-", " ").capitalize()

    def told(name: str, question: str, usual: str, read: Callable[[str], T]) -> T:
        """What was said; else what is answered at a terminal; else what is usual."""
        return read(said[name] or usual) if said[name] or not asking else _prompt(question, usual, read)

    title = told("title", "What is it", usual, str)
    if not slug(title):
        raise CallError(f"{title!r} is no title.", "Say what it is in a few words: --title TEXT")
    currency = told("currency", "Currency, by its three letters", USUAL_CURRENCY, _currency)

    def amount(text: str) -> int:
        return money.given(text, currency)

    _amounts_or_wrong({"--pot": said["pot"], "--purchase": said["purchase"]}, currency)
    pot = _prompt("The whole pot, the purchase included", None, amount) if asking else amount(said["pot"])
    purchase = told("purchase", "What it was bought for", "0", amount)
    hours = said["hours"] if said["hours"] is not None or not asking else _prompt("Your hours for it, or nothing if they are not limited", "", _hours)  # noqa: E501 # fmt: skip
    return NewJob(title, currency, pot, purchase, hours)


def _amounts_or_wrong(said: Mapping[str, str | None], currency: Currency) -> None:
    """Raises ``WordsError`` with every amount that is none, each by its option."""
    from optimiser import money

    wrong = []
    for option, text in said.items():
        try:
            money.given(text or "0", currency)
        except CallError as error:
            wrong.append((f"{option} {error.found}", error.mend))
    if wrong:
        raise WordsError(wrong)


def _prompt(question: str, usual: str | None, read: Callable[[str], T]) -> T:
    while True:
        given = click.prompt(question, default=usual, show_default=bool(usual), err=True)
        try:
            return read(str(given).strip())
        except CallError as wrong:
            click.echo(f"{wrong.found} {wrong.mend}", err=True)


def _currency(code: str) -> Currency:
    from optimiser.money import Currency

    try:
        return Currency.of(code.upper())
    except ValueError as error:
        raise CallError(f"{error!s}.", "Write its three letters, such as GBP or EUR.") from None


def _hours(text: str) -> float | None:
    if not text:
        return None
    try:
        return float(text)
    except ValueError:
        raise CallError(f"{text!r} are no hours.", "Write a number such as 24.") from None


@dataclass(frozen=True)
class _Telling:
    """How faults are told: the patterns, what else is known of the job, and what is typed before a pattern's name.

    ``begins``: the job is only just begun. ``name`` is the id that the fault gets, where that is not the pattern's own.
    """

    known: dict[str, Pattern]
    about: str
    before: str
    begins: bool = False
    name: str = ""


def _all_wanted(texts: Sequence[str], known: dict[str, Pattern], folder: Path, head: NewJob) -> list[Wanted]:
    """The faults that words mean. Raises ``WordsError`` with all of which it is not sure, and a call for the others."""
    telling = _Telling(known, " ".join((head.title, *texts)), "--fault ", begins=True)
    wanted: list[Wanted] = []
    unsure: list[CallError] = []
    for text in texts:
        try:
            wanted.append(_wanted(text, telling))
        except CallError as wrong:
            unsure.append(wrong)
    if unsure:
        rest = ("The others are clear.", "Begin with them") if wanted else ("Nothing is written yet.", "Begin it empty")
        again = (rest[0], f"{rest[1]}: {_again(folder, head, wanted)}")
        raise WordsError([*((wrong.found, wrong.mend) for wrong in unsure), again])
    _must_be_told_apart(texts, wanted)
    return wanted


def _must_be_told_apart(texts: Sequence[str], wanted: Sequence[Wanted]) -> None:
    """Raises ``CallError`` where two of the faults that were said are one and the same."""
    first: dict[str, str] = {}
    for text, fault in zip(texts, wanted, strict=True):
        same = next((first[name] for name in fault.ids if name in first), None)
        if same is not None:
            twice = f"{text!r} is said twice" if same == text else f"{same!r} and {text!r} are one fault"
            words, places = text.split(":")[0].strip(), fault.pattern.places
            where = f"Say where each is: --fault {in_shell(f'{words}:{places[0]}')}; " if places else ""
            there = f"{where}it may be said of {', '.join(places)}." if places else "Say it once."
            raise CallError(f"{twice}: {fault.pattern.title}.", there)
        first |= dict.fromkeys(fault.ids, text)


def _again(folder: Path, head: NewJob, wanted: Sequence[Wanted]) -> str:
    """The call that begins the job with these faults, each by its pattern."""
    money = head.currency.text
    options = [("title", head.title), ("currency", head.currency.code), ("pot", money(head.pot_minor))]
    options += [("purchase", money(head.purchase_minor))] if head.purchase_minor else []
    options += [] if head.hours is None else [("hours", f"{head.hours:g}")]
    faults = (("fault", ":".join(filter(None, (each.by, *each.places, each.severity)))) for each in wanted)
    typed = (f"--{name} {in_shell(text)}" for name, text in (*options, *faults))
    return " ".join(("optimiser begin", in_shell(str(folder)), *typed))


def _wanted(text: str, telling: _Telling) -> Wanted:
    """The fault that the words mean; where it is not sure, chosen on a terminal or refused with the nearest ones."""
    from optimiser.names import slug
    from optimiser.patterns import said, several

    known, before = telling.known, telling.before
    told = said(text, known, telling.about)
    if not slug(told.words):
        raise CallError(f"{text!r} says nothing of what is wrong.", f'Say it in plain words: {before}"blower dead"')
    if parts := several(told.words, known):
        raise CallError(
            f"{told.words!r} names more than one fault.",
            f"Say each by itself: {'; '.join(f'{before}{in_shell(words)}' for words in parts)}",
        )
    pattern = told.surely or _chosen(told, known)
    if pattern is None:
        near = "; ".join(f"{before}{found.pattern.id} ({found.pattern.title})" for found in told.found)
        mend = f"Say in its place one of: {near}." if near else "Say it in other words."
        plain = "Or begin without it, as told last, then add it by no pattern" if telling.begins else "Or by no pattern"
        adding = _by_no_pattern(told, telling.name)
        raise CallError(f"It is not sure what {told.words!r} means.", f"{mend} {plain}: {adding}")
    return replace(told.wanted(pattern), name=telling.name)


def _by_no_pattern(told: Said, name: str = "") -> str:
    """How to add a fault that no pattern knows; how grave it is, only the person knows where the words do not say."""
    from optimiser import starting

    severity = told.severity or starting.gravity_of(told.words)
    grave = severity.value if severity else ask(f"{told.words}: {HOW_GRAVE}", GRAVITIES)
    return add_by_no_pattern(told.words, grave, *(("--as", in_shell(name)) if name else ()))


def _chosen(told: Said, known: dict[str, Pattern]) -> Pattern | None:
    """The pattern chosen at a terminal; None where nobody is there, or it is none of those."""
    offered = {found.pattern.title: found.pattern.id for found in told.found}
    answered = ask(f"{told.words}: which is nearest?", [*offered, NONE_OF_THESE]) if offered else None
    return known.get(offered.get(answered or "", ""))


def _asked(known: dict[str, Pattern], about: str) -> tuple[list[Wanted], list[LeftOut]]:
    """The faults that a person tells at a terminal, one after another, and what of it is left out for now."""
    from optimiser.patterns import said
    from optimiser.show.begun import LeftOut

    wanted: list[Wanted] = []
    left_out: list[LeftOut] = []
    while True:
        question = (
            "What is wrong, in plain words; several with commas"
            if not (wanted or left_out)
            else "What else; nothing if that is all"
        )
        text = click.prompt(question, default="", show_default=False, err=True)
        if not text.strip():
            return wanted, left_out
        for words in filter(None, (one.strip() for one in text.split(","))):
            about += f" {words}"
            told = said(words, known, about)
            pattern = told.surely or _chosen(told, known)
            if pattern is None:
                left_out.append(LeftOut(words, _by_no_pattern(told)))
                click.echo(f"Left out for now: {words}. Add it later: {left_out[-1].adding}", err=True)
                continue
            wanted.append(_told_more(told, pattern))


def _told_more(told: Said, pattern: Pattern) -> Wanted:
    """Where it is, how grave, and which cause is the likely one, each with the pattern's own as the default."""
    from optimiser.model.job import Severity

    click.echo(f"{pattern.title}:", err=True)
    fault = told.wanted(pattern)
    if pattern.places and not fault.places:
        both = ["both"] if len(pattern.places) == 2 else []
        where = ask("Where?", [*pattern.places, *both, "not said"])
        fault = replace(
            fault,
            places=pattern.places if where == "both" else tuple(place for place in pattern.places if place == where),
        )
    if fault.severity is None:
        grave = click.prompt("How grave", default=pattern.severity, type=SEVERITIES, err=True)
        fault = replace(fault, severity=None if grave == pattern.severity else Severity(grave))
    return replace(fault, odds=_odds(pattern))


def _odds(pattern: Pattern) -> dict[str, str]:
    if len(pattern.causes) < 2:
        return {}
    total = sum(pattern.causes.values())
    said = ", ".join(f"{cause} {round(100 * odds / total)}%" for cause, odds in pattern.causes.items())
    return pattern.odds_if(
        ask(f"Ordinarily: {said}. Do you think that it is one of them?", [*pattern.causes, "leave it so"])
    )


def _plain(folder: Path, title: str, said: dict[str, Any]) -> Any:
    from optimiser import starting
    from optimiser.model.job import Severity

    _must_be_systems(said["systems"])
    grave = said["severity"] or ask(HOW_GRAVE, GRAVITIES)
    if grave is None:
        raise CallError("How grave is it?", f"Say --severity {', '.join(GRAVITIES[:-1])} or {GRAVITIES[-1]}. {DANGER}")
    if said["by_workshop"] and said["price"] is None:
        raise CallError(WORKSHOP_ASKS, "Say it with --price, 0 if it asks nothing.")
    price_minor = _price_minor(said, starting.currency_of(folder, today()))
    return starting.Plain(
        title, Severity(grave), said["chance"], price_minor, said["name"], said["by_workshop"], said["minutes"],
        said["systems"],
    )  # fmt: skip


def _must_be_systems(words: Sequence[str]) -> None:
    """Raises ``WordsError`` with every system that nobody knows."""
    from optimiser.job_folder import known_names, package_data
    from optimiser.names import nearest

    systems = package_data.systems()
    wrong = [word for word in words if known_names.plain_name(word, package_data.systems) is None]
    if wrong:
        names = [*systems, *(name for row in systems.values() for name in row["names"])]
        meant = {word: nearest(word, names) for word in wrong}
        mends = {word: f"Did you mean {near}? Else say" if near else "Say" for word, near in meant.items()}
        known = f"one of {', '.join(systems)}; or leave --system out."
        raise WordsError([(f"{word!r} is no system.", f"{mends[word]} {known}") for word in wrong])
