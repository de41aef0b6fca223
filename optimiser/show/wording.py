"""Every sentence that a person reads, in the trade's plain words; British spelling."""

from __future__ import annotations

import traceback
from collections import Counter
from decimal import Decimal
from pathlib import Path

from optimiser.calls import call
from optimiser.chances import whole_percent
from optimiser.errors import CallError, InputError, Problem, RecordError, WordsError
from optimiser.model.job import Access, Check, Fault, Job, Repair
from optimiser.model.limits import LIMITS, limits_of
from optimiser.model.option import Bar, Line, NotOffered, Option
from optimiser.model.outstanding import DepositDue, OnOrder
from optimiser.model.plan import PROFIT, Choice, Grounds, Notice, Order, OrderLine, Plan, Reason, Remark
from optimiser.model.quotes import STILL_TO_BE_ASKED, Quote, Supplier
from optimiser.money import NO_CURRENCY, half_up
from optimiser.planning.totals import check_of
from optimiser.text import counted, in_shell

LONGEST_FOUND = 200
DIGITS_OF_A_GAP = 3
BARRED_KINDS = {"check": "check", "quote": "quote", "owned": "on your shelf:", "repair": "repair", "fault": "fault"}

SEVERITY_MARK = {"dangerous": "DANGEROUS", "major": "major", "minor": "minor"}


def plain(text: str) -> str:
    """Text with every control and formatting sign made visible, so that nothing reaches a terminal raw."""
    text = text.replace("\N{NO-BREAK SPACE}", " ")
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


def amount(job: Job, minor: int) -> str:
    """An amount with its currency: "12.50 GBP"; without a code where the job names none."""
    return f"{job.currency.text(minor)}{code(job)}"


def code(job: Job) -> str:
    """The currency's code behind an amount, nothing where the job names none."""
    return "" if job.settings.currency == NO_CURRENCY else f" {job.settings.currency}"


def chance(value: float) -> str:
    """A chance in whole percent, half up as it counts, never rounded to a certainty that is none."""
    percent = f"{whole_percent(value)}%"
    if percent == "100%" and value < 1:
        return "over 99%"
    return "under 1%" if percent == "0%" and value > 0 else percent


def hours(minutes: int) -> str:
    whole, rest = divmod(minutes, 60)
    return f"{rest} min" if not whole else f"{whole} h" if not rest else f"{whole} h {rest:02d} min"


def title(job: Job) -> str:
    return plain(job.settings.title or "This job")


def named(what: Fault | Check | Repair | Access | Supplier) -> str:
    return plain(what.title or what.id)


def fault(choice: Choice) -> str:
    return named(choice.fault)


def repair(job: Job, option: Option) -> str:
    for known in job.faults:
        if known.id == option.fault:
            return named(next(r for r in known.repairs if r.id == option.repair))
    return plain(option.repair)


def part(job: Job, part_id: str) -> str:
    return plain(next((known.title for known in job.parts if known.id == part_id and known.title), part_id))


def supplier(job: Job, supplier_id: str | None) -> str:
    """The supplier in words; no supplier is the owner's shelf."""
    return "your shelf" if supplier_id is None else plain(job.supplier(supplier_id).title or supplier_id)


def source(job: Job, quote: Quote) -> str:
    """Where a piece comes from, in words; of pieces that the record laid on the shelf, the entry that did."""
    how, _, entry = quote.id.partition(":")
    recorded = quote.supplier is None and how in ("bought", "kept")
    behind = f" ({how}, entry {entry.partition('-')[0]})" if recorded else ""
    return f"{supplier(job, quote.supplier)}{behind}"


def sources(job: Job, option: Option) -> str:
    """Where an option comes from, in a few words: conditions and suppliers."""
    if not option.lines:
        return "workshop" if option.by_workshop else "nothing to order"
    parts = Counter(line.quote.part for line in option.lines)

    def which(line: Line) -> str:
        """The part, where there are several, and how many pieces, where one part comes from two places."""
        pieces = f"{line.units} " if parts[line.quote.part] > 1 else ""
        return f"{f'{part(job, line.quote.part)} ' if len(parts) > 1 else ''}{pieces}"

    said = [f"{which(line)}{line.quote.condition} from {source(job, line.quote)}" for line in option.lines]
    return ", ".join(said) + (", fitted by a workshop" if option.by_workshop else "")


def headline(plan: Plan) -> str:
    if not plan.choices and plan.job.closed:
        return f"Every fault is cured; {amount(plan.job, max(0, plan.purse.remaining_minor))} of the pot is left."
    if not plan.choices:
        adding = call("add", '"WHAT IS WRONG"')
        return f"The job lists no faults yet: {adding} adds one."
    mended = sum(choice.route is not None for choice in plan.choices)
    left = len(plan.choices) - mended
    rest = "nothing is left" if left == 0 else f"{left} {'is' if left == 1 else 'are'} left"
    purse = plan.purse
    same = abs(plan.expected_count - plan.expected_fixes) < 0.005
    weighted = "" if same else f" ({plan.expected_fixes:.2f} weighted by importance)"
    return (
        f"With {amount(plan.job, max(0, purse.remaining_minor))} to spend: work on {mended} of {len(plan.choices)}"
        f" faults ({rest}), {plan.expected_count:.2f} fixes expected{weighted}."
    )


def gain(plan: Plan) -> str:
    earned = plan.selection.levels[PROFIT]
    much = amount(plan.job, abs(earned))
    if earned < 0:
        return f"Expected to cost {much} more than it adds to the sale, your time counted."
    return f"Expected to add {much} to the sale beyond all its costs and your time."


def outcome(plan: Plan) -> str:
    """How good the mix is known to be, without flattery, and among which mixes."""
    known, job = plan.outcome, plan.job
    without = f", without checks that {too_little(job)}" if plan.leaves_out_checks else ""
    proven = f"Proven{without}: no other mix"
    if known.proven and known.cheapest:
        return f"{proven} does better under the rules of this job."
    if known.proven:
        return f"{proven} mends more; of very many ways not all were weighed, so one may cost a little less."
    if known.unit == "money":
        return f"Best found in the time allowed: another mix may be up to {amount(job, known.better_at_most)} better."
    unit = 10 ** max(0, len(str(known.better_at_most)) - DIGITS_OF_A_GAP)
    better = Decimal(-(-known.better_at_most // unit) * unit) / 1_000_000  # rounded up: it is a bound
    stage = " on the dangerous faults, in whole steps of safety" if known.stage == "dangerous" else ""
    return (
        f"Best found in the time allowed: another mix may be up to {better:f} fixes better"
        f"{stage}. Allow more seconds in [solve] to close the gap."
    )


def too_little(job: Job) -> str:
    """By what a check falls short of the job's ``check_must_gain``."""
    return f"gain less than {job.settings.check_must_gain:g} of a fix"


FORBIDS = {limit.reason: limit.forbids for limit in LIMITS}
WHY = {limit.reason: limit.left for limit in LIMITS} | {
    Reason.CHECK_FIRST: "Check first: that {worth}.",
    Reason.IN_TURN: "One after the other: {expected} on the average, {most} at the most.{unlooked}",
    Reason.TRY_FIRST: "Try before checking, for trying is itself the best check: to check first {worth}.",
    Reason.NOTHING_OFFERED: "Left. Nothing that may be used is offered; see below.",
    Reason.LEFT_AS_IT_IS: "Left. As it is, because you wrote so; to take it up again, strike that entry out.",
    Reason.ONLY_WAY: "The only way offered.",
    Reason.SUREST_AND_CHEAPEST: "No option is surer, and {rival} would cost {more}{alone}.",
    Reason.SUREST: "This is the surest: {rival} would save {cost}{alone} and give up {points} of chance.",
    Reason.SHARES_AN_ORDER: ("{rival} would cost {less}{alone}; this one shares its orders and packs with the rest."),
    Reason.GOOD_ENOUGH: (
        "It could be surer: {rival} adds {points} of chance for {cost} more{alone}; safety counts{step} up to {enough}."
    ),
    Reason.OUT_OF_REACH: ("{rival} would add {points} of chance for {cost} more{alone}, but {limit} not allow it."),
    Reason.DEARER_FOR_LITTLE: "For {cost} more{alone}, {rival} adds {points} of chance; the money does more elsewhere.",
    Reason.TOO_DEAR: "Left. The cheapest way, {rival}, costs {cost}, more than remains for this plan.",
    Reason.NOT_WORTH_IT: "Left. {rival} ({cost}, and your time) would cost more than it adds to the sale.",
    Reason.OTHERS_FIRST: "Left. {rival} ({cost} on top) would take what does more elsewhere, or adds next to nothing.",
}


def why(job: Job, choice: Choice) -> str:
    """The short why of a choice, from facts at hand."""
    other = choice.why.other
    facts = {"cost": amount(job, abs(choice.why.cost_minor)), "points": f"{abs(choice.why.chance) * 100:.1f} points"}
    facts |= {way: f"{facts['cost']} {way}" if choice.why.cost_minor else "as much" for way in ("more", "less")}
    if other is not None:
        facts["rival"] = sources(job, other).removesuffix(", fitted by a workshop")
        if choice.route is None or choice.option is None or other.repair != choice.option.repair:
            bought = f" ({facts['rival']})" if other.lines or other.by_workshop else ""
            facts["rival"] = f'"{repair(job, other)}"{bought}'
    facts["alone"] = _each_alone(job, choice.why)
    facts |= {"expected": amount(job, choice.landed_minor), "most": amount(job, choice.most_minor)}
    saved = -choice.why.cost_minor if choice.why.reason == Reason.TRY_FIRST else choice.why.cost_minor
    looked = next(
        (w for w in choice.checks if choice.route and choice.route.first_step[1:] == ("check", w.check)), None
    )
    facts["worth"] = worth_in_words(job, choice.why.chance, saved, looked.earned_minor if looked else 0.0)
    step = job.settings.safety_step
    facts |= {"step": f" in steps of {step:.0%}" if step else "", "enough": chance(job.settings.good_enough)}
    facts["limit"] = f"{limits(job)} do" if choice.why.limit is None else FORBIDS[choice.why.limit]
    facts["unlooked"] = " To check before trying would do no better." if choice.fault.checks else ""
    said = WHY[choice.why.reason].format(**facts)
    start = len("Left. ") if said.startswith("Left. ") else 0
    return said[:start] + said[start : start + 1].upper() + said[start + 1 :]


def _each_alone(job: Job, known: Grounds) -> str:
    """The two amounts of which the difference was said: the share of a plan's orders is another."""
    if known.alone_minor is None:
        return ""
    rival, chosen = job.currency.text(known.alone_minor + known.cost_minor), job.currency.text(known.alone_minor)
    return f" ({rival} against {chosen}, each bought alone)" if known.cost_minor else " bought alone"


def limits(job: Job) -> str:
    """All that a mix keeps within, for where nobody knows which limit an option would pass."""
    *most, last = (limit.name for limit in limits_of(job))
    return f"{', '.join(most)} or {last}"


def worth_in_words(job: Job, chance_more: float, saved_minor: int, earned_minor: float = 0.0) -> str:
    """The gain or cost of a check in chance and in money, and for aim profit in all."""
    points, much = f"{abs(chance_more) * 100:.1f} points of chance", amount(job, abs(saved_minor))
    even = abs(chance_more) < 0.0005
    adds = "leaves the chance as it is" if even else f"{'adds' if chance_more > 0 else 'costs'} {points}"
    costs = f"{'costs ' if even or chance_more > 0 else ''}{much} more on the average"
    said = f"{adds} and {f'saves {much} on the average' if saved_minor > 0 else costs}"
    if not saved_minor:
        said = f"{adds}{' and costs no more' if even else ' at the same cost'}"
    earned = half_up(earned_minor)
    if not earned:
        return f"{said}, your time counted" if saved_minor and job.hour_worth_minor else said
    return f"{said}: in all it {'earns' if earned > 0 else 'costs'} {amount(job, abs(earned))}, your time counted"


def check(job: Job, fault_id: str, check_id: str) -> str:
    """The check in words, and whether it may be made yet while something dangerous is open."""
    found = check_of(job, fault_id, check_id)
    if job.waits_for_fuel(fault_id, found):
        return f"{named(found)} (not while fuel may be about: mend that first)"
    if job.wants_gas_shut(fault_id, found):
        return f"{named(found)} (gas shut at its bottle or tank, and aired, first)"
    if job.waits_for_a_test(found):
        return f"{named(found)} (on a licensed test alone while anything dangerous is open)"
    return named(found)


def on_order(job: Job, some: OnOrder) -> str:
    here = "here by now" if not some.days else f"here in {counted(some.days, 'day')}"
    return f"{some.units} x {part(job, some.part)} from {supplier(job, some.supplier)} (entry {some.bought}): {here}"


def deposit_due(job: Job, due: DepositDue) -> str:
    pieces = f"{due.pieces} x {part(job, due.part)}"
    return f"{amount(job, due.money_minor)} from {supplier(job, due.supplier)} for {pieces} (entry {due.bought})"


def order_line(job: Job, supplier_id: str, line: OrderLine) -> str:
    price = amount(job, line.goods_minor)
    many = f"{packs(line)}," if line.quote.pack > 1 else f"{line.packs} x"
    return f"{many} {part(job, line.quote.part)}, {line.quote.condition}, from {supplier(job, supplier_id)}, {price}"


def packs(line: OrderLine) -> str:
    return f"{line.packs}" if line.quote.pack == 1 else f"{counted(line.packs, 'pack')} of {line.quote.pack}"


def order_sums(job: Job, order: Order) -> str:
    if order.supplier.id == STILL_TO_BE_ASKED:
        return f"Some {amount(job, order.total_minor)} at rough prices, without postage: ask before you order."
    text, waiver = job.currency.text, _waiver(job, order)
    postage = f"postage {text(order.postage_minor)}{f' ({waiver})' if waiver else ''}"
    deposits = f", deposits {text(order.deposits_minor)}" if order.deposits_minor else ""
    trip = f" Fetching it takes {order.supplier.trip_minutes} min." if order.supplier.trip_minutes else ""
    return f"Goods {text(order.goods_minor)}, {postage}{deposits}: {amount(job, order.total_minor)} to pay.{trip}"


def _waiver(job: Job, order: Order) -> str:
    """The goods that would waive an order's postage."""
    if order.to_waive_minor is not None:
        return f"free with {amount(job, order.to_waive_minor)} more goods"
    terms = order.supplier
    return "waived" if terms.postage_minor and not order.postage_minor else ""


def not_offered(job: Job, barred: NotOffered) -> str:
    return f"{_barred_name(job, barred)}: {because(job, barred)}"


def _barred_name(job: Job, barred: NotOffered) -> str:
    """The name of a barred thing: a quote with its place, a piece on the shelf, a repair or a fault by its title."""
    quotes = job.sheets.by_id
    shelf = job.shelf
    titles = {fault.id: fault.title for fault in job.faults}
    titles |= {f"{fault.id}/{check.id}": check.title for fault in job.faults for check in fault.checks}
    titles |= {f"{fault.id}/{repair.id}": repair.title for fault in job.faults for repair in fault.repairs}
    name = plain(titles.get(barred.id) or barred.id)
    if barred.id in quotes:
        quote = quotes[barred.id]
        name = f"{name} ({part(job, quote.part)}, {quote.condition}, {supplier(job, quote.supplier)})"
    elif barred.id in shelf:
        name = f"{part(job, shelf[barred.id].part)}, {shelf[barred.id].condition}"
    return f"{BARRED_KINDS[barred.kind]} {name}"


def because(job: Job, barred: NotOffered) -> str:
    detail = plain(barred.detail)
    named = part(job, barred.detail) if barred.detail else ""
    return {
        Bar.LAPSED: f"the quote ran out on {detail}",
        Bar.LATE: f"it would {f'arrive on {detail},' if detail else 'be done'} after {job.settings.needed_by}",
        Bar.SALVAGE: "this part is never bought as salvage",
        Bar.KIND_NOT_SAID: 'salvage, where nobody says that this part may be: write kind = "free" to allow it',
        Bar.ONLY_NEW: "this part is bought new or not at all",
        Bar.LICENSED: f"work on {detail} is for those licensed for it",
        Bar.NO_QUOTE: f"no usable quote and no piece on the shelf for {named}",
        Bar.TOO_FEW: f"nobody has enough pieces of {named}",
        Bar.NO_CURE: "it has no chance of a cure",
        Bar.TRIED: f"what there is of {named} was tried already" if named else "it was tried already",
        Bar.NO_REPAIR: "no repair of it can be offered",
        Bar.LEFT: f"entry {detail} leaves it as it is; to take it up again: {call('strike', detail)}",
    }[barred.bar] + (f" (for {', '.join(map(plain, barred.faults))})" if barred.faults else "")


NOTICES = {
    Remark.OVERSPENT: (
        "The pot is overdrawn by {0}{currency}: only what costs nothing is planned."
        " Raise the cap, or lower what is spent or held back."
    ),
    Remark.HELD_BACK_SPENT: (
        "{0}{currency} of the {1}{currency} held back is spent already: only what costs nothing is planned."
        " Raise the cap, or hold less back."
    ),
    Remark.SAFETY_OFF: "Safety first is switched off in this job: dangerous faults get no precedence.",
    Remark.PROTECTION_LIFTED: (
        "Salvage is allowed for {0} ({1}) because the job says so; common practice is never to fit it."
    ),
    Remark.PROTECTION_FREED: (
        "Salvage is allowed for {0} ({rest}) because the job says so: be sure that it is no part that must be sound"
        " to stop, steer or hold."
    ),
    Remark.KIND_NOT_SAID: (
        "Salvage is left out for {all}: their names do not say whether they are parts that are never fitted used."
        ' Where one is not, write kind = "free" in its [[part]] row.'
    ),
    Remark.SAFETY_PART_USED: (
        "{0} comes {1}, and safety hangs on it ({2}): have it looked over by somebody who knows before it is fitted."
        " --condition new shuts it out."
    ),
    Remark.LICENCE_CLAIMED: (
        "The job says that you are licensed to work on {0}. If you are not, leave it to those who are."
    ),
    Remark.SUPPLIER_NOT_LISTED: (
        "Supplier {0} has no row in suppliers.csv: no postage and no minimum are assumed.{meant}"
    ),
    Remark.JOINS_AN_ORDER: (
        "{0}: counted as one order with what was bought there today (entr{ies} {rest}), so its postage is not paid"
        " again. If that order is gone, allow for another postage."
    ),
    Remark.PART_NOT_NAMED: "Part {0} is quoted, but no repair names it.{meant}",
    Remark.NEEDED_BY_PAST: "needed_by ({0}) is before today ({1}): whatever takes a day is left out.",
    Remark.SET_ROUNDED: "{0}: {1} is renewed in whole sets, so {3} instead of {2}.",
    Remark.SET_INCOMPLETE: (
        "{1} x {0} is yours, but it is renewed in sets of {2} alike: a whole new set is planned. If its seller has more"
        " of the very same, buy {3} more there instead and say: {bought} {typed[0]} from SELLER --packs {3}."
    ),
    Remark.ALIKE_QUOTES: "Quotes alike in everything, kept as separate quotes: {all}.",
    Remark.SAME_AXLE: (
        "{0} is renewed in sets by more than one fault ({rest}): if that is one axle, make one fault of them."
    ),
    Remark.NO_CURRENCY: (
        'The job names no currency: two decimal places are assumed. Set currency = "GBP" or the like in [job].'
    ),
    Remark.ROUGH_PRICES: "Rough prices stand for quotes that nobody has given yet: {all}.",
    Remark.ROUGH_WORK: (
        "Work is priced by a guess, until somebody is asked: {all}. With the answer write the price, and strike rough."
    ),
    Remark.NOT_QUOTED: (
        "Nobody quotes these parts, and none is on the shelf, so no repair with them is offered: {all}. Write a line"
        " into quotes.csv, or a rough_price into the [[part]] row."
    ),
    Remark.PROFIT_WITHOUT_GAIN: (
        'aim = "profit", and no fault says what mending it gains at the sale: set sale_gain in the [[fault]] rows.'
    ),
    Remark.TWIN_ALONE: '{0} is the only fault of the twin group {1}: write twin = "{1}" in the other fault too.',
    Remark.DANGEROUS_TRIED: (
        "{0} is dangerous: judge each attempt at a standstill or by a licensed test, never in use."
    ),
    Remark.QUOTES_CUT: (
        "{0} quotes were not looked at, of so many for {rest}: the dearest that could still have spared something."
        " Take out of the sheets what you would never buy."
    ),
    Remark.ROUTES_CUT: "{0}: so many ways to mend it that only the {1} best for the money were searched as fallbacks.",
    Remark.CHECKS_CUT: "{0}: so many checks that the {1} least telling were not searched.",
    Remark.AHEAD_CUT: "{0}: so many ways to mend it that none was searched with a later part in the first order.",
    Remark.TIME_OVER: "There was no time to search every way to go about {all}. Allow more seconds in [solve].",
    Remark.CHECKS_UNJUDGED: (
        "There was no time to see whether each check is worth making ({all}). Allow more seconds in [solve]."
    ),
    Remark.ENTRIES_CLASH: (
        "What was seen on {0} cannot all be true: {rest}. Strike out the entry that is wrong ({strike} NUMBER);"
        " until then they are taken with care."
    ),
    Remark.ENTRY_MISFITS: "Entry {0} of the record ({1}) does not fit the job as it is written now: {2}.",
    Remark.CURED_TOO: (
        "{0} may have been cured together with its twin ({1}). Try it, then say: {found} {typed[2]} works;"
        " or: {found} {typed[2]} still. Until then it is planned as if still."
    ),
    Remark.CAUSES_SHARED: (
        "{all} may have one cause together, which one repair cures for all: so more fixes may come of this plan"
        " than its sum of chances, and less may be spent than is kept for each."
    ),
    Remark.SINGLE_CAUSE: (
        "Routes take it that one cause is present in each fault, and that an attempt shows plainly whether it worked."
        " Where one says to leave it, whatever is left to try does less for the money than other faults."
    ),
}
ABOUT_FAULTS = {
    Remark.DANGEROUS_TRIED,
    Remark.SET_ROUNDED,
    Remark.ROUTES_CUT,
    Remark.CHECKS_CUT,
    Remark.AHEAD_CUT,
    Remark.ENTRIES_CLASH,
    Remark.CURED_TOO,
    Remark.TWIN_ALONE,
}


def notice(job: Job, said: Notice) -> str:
    titles = {f.id: f.title or f.id for f in (*job.faults, *job.closed)}
    about = [plain(text) for text in said.about]
    if said.remark in ABOUT_FAULTS:
        about[0] = plain(titles[said.about[0]])
    if said.remark is Remark.JOINS_AN_ORDER:
        about[0] = supplier(job, said.about[0])
    rest = ", ".join(plain(titles.get(text, text)) for text in said.about[1:])
    meant = f" Did you mean {about[1]}?" if len(about) > 1 else ""
    return NOTICES[said.remark].format(
        *about,
        meant=meant,
        all=", ".join(plain(titles.get(text, text)) for text in said.about),
        rest=rest,
        typed=[in_shell(plain(text)) for text in said.about],
        ies="y" if len(about) == 2 else "ies",
        currency=code(job),
        found=call("found"),
        bought=call("bought"),
        strike=call("strike"),
    )


def problem(wrong: Problem) -> str:
    place = ", ".join(plain(text) for text in (wrong.file, wrong.where, wrong.key) if text)
    lines = [place, f"    found     {plain(wrong.found)[:LONGEST_FOUND]}", f"    expected  {plain(wrong.expected)}"]
    return "\n".join([*lines, f"    mend      {plain(wrong.mend)}"])


def problems(count: int, left_out: int, written: bool = False) -> str:
    """How many things are wrong; ``written`` where something was written down before they were found."""
    total = count + left_out
    more = f" (the first {count} are listed)" if left_out else ""
    nothing = "nothing was planned" if written else "nothing was planned and nothing written"
    return f"{counted(total, 'problem')} in the job{more}; {nothing}."


def all_well(job: Job, cautions: int) -> str:
    """The answer of ``verify`` where all is in order."""
    rough = sum(quote.rough for quote in job.quotes)
    quotes = [counted(len(job.quotes) - rough, "quote"), *([counted(rough, "rough price")] if rough else [])]
    suppliers = counted(sum(one.id != STILL_TO_BE_ASKED for one in job.suppliers), "supplier")
    counts = f"{counted(len(job.faults), 'fault')}, {', '.join(quotes)}, {suppliers}"
    rest = counted(cautions, "caution") if cautions else "no cautions"
    return f"{title(job)}: {counts}. No problems, {rest}."


def error(wrong: Exception, written: bool = False) -> str:
    """An error for a person: every problem with its mend, or what to report where the fault is ours.

    ``written`` where something was written down before it.
    """
    if isinstance(wrong, InputError):
        listed = "\n\n".join(problem(one) for one in wrong.problems)
        return f"{problems(len(wrong.problems), wrong.left_out, written)}\n\n{listed}\n"
    if isinstance(wrong, CallError):
        return f"{plain(wrong.found)}\n{plain(wrong.mend)}\n"
    if isinstance(wrong, WordsError):
        told = [f"{plain(found)}\n{plain(mend)}" for found, mend in wrong.problems]
        return "\n".join((*told, *(() if written else ("Nothing was written.",)))) + "\n"
    if isinstance(wrong, RecordError):
        mend = wrong.mend.removeprefix("Nothing was written: ").capitalize() if written else wrong.mend
        return f"{plain(wrong.where)}: {plain(wrong.found)}\n{plain(mend)}\n"
    where = traceback.extract_tb(wrong.__traceback__)
    place = f"{Path(where[-1].filename).name}:{where[-1].lineno}" if where else "nowhere"
    return (
        f"This is a fault of the program, not of your job: {type(wrong).__name__} at {place}: {plain(str(wrong))}\n"
        "Please report this line, the command, and the job folder if you can share it."
        f"{'' if written else ' Nothing was written.'}\n"
    )
