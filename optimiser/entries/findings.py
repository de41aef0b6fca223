"""What was found: a check's result, a cause seen or ruled out, a fault that is back, one that nobody knew of."""

from __future__ import annotations

from collections.abc import Sequence

from optimiser.calls import add_by_no_pattern, call
from optimiser.diagnosis.belief import likelihoods, prior
from optimiser.entries import after_cure
from optimiser.entries.context import Desk
from optimiser.entries.naming import nobody, one_word, plain_answer
from optimiser.model import events
from optimiser.model.heard import Hear, Heard, nothing
from optimiser.model.job import SOMETHING_ELSE, Check, Fault, Severity
from optimiser.names import id_for
from optimiser.text import in_shell

GRAVITIES = [severity.value for severity in reversed(Severity)]


def found(
    desk: Desk,
    words: Sequence[str],
    cost: str | None = None,
    severity: Severity | None = None,
    hear: Hear = nothing,
) -> tuple[events.Happening, ...]:
    """The words after ``found`` as happenings. Raises ``WordsError`` with everything wrong with them.

    ``hear`` tells what the words for a new fault mean.
    """
    typed = list(words)
    if typed and typed[0].isdecimal() and typed[0] not in desk.faults and "is" not in typed and "is-not" not in typed:
        typed = one_word(typed)
    made = _taken(desk, typed, cost, severity, hear)
    desk.wrong.check()
    return () if made is None else (made,)


def _taken(
    desk: Desk, words: list[str], cost: str | None, severity: Severity | None, hear: Hear
) -> events.Happening | None:
    made: events.Happening | None = None
    cost_minor = desk.amount(cost, "--cost")
    of_check = False
    match words:
        case ["new", *title] if title and "new" not in desk.faults:
            made = _new(desk, " ".join(title), severity, hear)
        case [subject, "is-back"]:
            made = _back(desk, subject)
        case [subject, "tested"] if _is_test(desk, subject):
            made = _tested(desk, subject)
        case [subject, "works" | "gone" | "still" as word] if after_cure.is_meant(
            desk, subject, _shown(desk, subject), word
        ):
            made = after_cure.answer(desk, subject, word)
        case [subject, "is", "not", cause] | [subject, "is-not", cause]:
            made = _cause(desk, events.SeenNotToBe, subject, cause)
        case [subject, "is", cause]:
            made = _cause(desk, events.SeenToBe, subject, cause)
        case [_] | [_, _] | [_, _, _]:
            of_check = True
            made = _of_check(desk, words, cost_minor)
        case _:
            desk.wrong.words("found", words, say())
    if severity is not None and not isinstance(made, events.NewFault):
        desk.wrong.add(
            "--severity goes with a new fault.", f'Say: {call("found")} new "what is wrong" --severity major'
        )
    if cost is not None and not of_check:
        desk.wrong.add("--cost goes with the result of a check.", say())
    return made


def _of_check(desk: Desk, words: Sequence[str], cost_minor: int | None) -> events.CheckMade | None:
    """The result of a check: by its step, by fault and check, or by a fault of which one check alone shows it."""
    subject, *rest = words
    if subject.isdecimal() and len(words) <= 2 and subject not in desk.faults:
        return _at_step(desk, subject, rest[0] if rest else None, cost_minor)
    if len(rest) == 2:
        return _result(desk, subject, rest[0], rest[1], cost_minor)
    if len(rest) == 1:
        return _result_alone(desk, subject, rest[0], cost_minor)
    fault = desk.fault(subject)
    desk.wrong.add(f"What was found on {subject if fault is None else fault.id}?", say())
    return None


def _new(desk: Desk, title: str, severity: Severity | None, hear: Hear) -> events.NewFault | None:
    name = id_for(title)
    if not name:
        desk.wrong.add(f"{title!r} names no fault.", "Say what is wrong in a few words.")
        return None
    if name in desk.faults:
        desk.wrong.add(
            f"The job has a fault {name} already.",
            f"If it was cured and is back, say: {call('found')} {name} is-back",
        )
        return None
    heard = hear(title, desk.job.called_by)
    grave = severity or _gravity(desk, heard)
    by_name = ("--as", in_shell(name))
    how_grave = ("--severity", severity.value) if severity else ()
    if heard.pattern:
        adding = call("add", in_shell(title), *by_name, *how_grave)
        desk.notes.append(
            f'It sounds like "{heard.pattern}". To have it planned with its causes, checks and rough prices: {adding}'
        )
    else:
        adding = add_by_no_pattern(title, None if grave is None else grave.value, *by_name)
        near = [f"{call('add', known, *by_name, *how_grave)} ({said})" for known, said in heard.near]
        ways = f"by the one that it is: {'; '.join(near)}. Or by no pattern: {adding}" if near else adding
        desk.notes.append(f"No pattern surely knows it. To have it planned{', ' if near else ': '}{ways}")
    return desk.made(events.NewFault, fault=name, title=title, severity=grave)


def _gravity(desk: Desk, heard: Heard) -> Severity | None:
    """How grave a new fault is where the person did not say: as ``add`` takes it, else as they answer."""
    again = f"{call('strike')}, then again with --severity"
    if heard.severity is not None:
        why = f'as "{heard.pattern}" is' if heard.pattern else "as is all on such a system"
        desk.notes.append(f"Taken as {heard.severity.value}, {why}. If it is not: {again}.")
        return heard.severity
    answer = desk.ask("How grave is it? Dangerous: somebody may be hurt if it fails.", GRAVITIES)
    if answer in GRAVITIES:
        return Severity(answer)
    desk.notes.append(f"Taken as major, for nobody knows these words. If somebody may be hurt when it fails: {again} dangerous.")  # noqa: E501 # fmt: skip
    return None


def _back(desk: Desk, subject: str) -> events.NewFault | None:
    fault = desk.about(subject)
    if fault is None:
        return None
    left = desk.job.left.get(fault.id)
    if left is not None:
        desk.wrong.add(f"Entry {left} leaves {fault.id} as it is.", f"To take it up again: {call('strike')} {left}")
        return None
    if not desk.is_cured(fault):
        desk.wrong.add(f"{fault.id} is open: it was not cured.", "Write down what was found on it.")
        return None
    return desk.made(events.NewFault, fault=fault.id, title=fault.title, severity=fault.severity, back=True)


def _is_test(desk: Desk, subject: str) -> bool:
    """Whether "tested" is said of a fault, and is no result of a check of an open one."""
    fault = desk.surely(subject)
    return fault is not None and (desk.is_cured(fault) or "tested" not in _shown(desk, subject))


def _tested(desk: Desk, subject: str) -> events.LicensedTest | None:
    fault = desk.about(subject)
    if fault is None:
        return None
    if not desk.is_cured(fault):
        mend = f"Write down first what cured it: {call('fitted')} {in_shell(fault.id)} REPAIR cured"
        desk.wrong.add(f"{fault.id} is open: there is nothing yet to test.", mend)
        return None
    return desk.made(events.LicensedTest, fault=fault.id)


def _cause(
    desk: Desk, kind: type[events.SeenToBe | events.SeenNotToBe], subject: str, word: str
) -> events.SeenToBe | events.SeenNotToBe | None:
    fault = desk.about(subject)
    if fault is None:
        return None
    if not fault.causes and word != SOMETHING_ELSE:
        desk.wrong.add(
            f"{fault.id} lists no causes, so there is none to name.",
            f'List them in job.toml under [fault.causes]; or keep the word: {call("noted")} "TEXT" --fault'
            f" {in_shell(fault.id)}",
        )
        return None
    cause = desk.pick(word, (*fault.causes, SOMETHING_ELSE), f"cause of {fault.id}", whole=True)
    return None if cause is None else desk.made(kind, fault=fault.id, cause=cause)


def _at_step(desk: Desk, number: str, result: str | None, cost_minor: int | None) -> events.CheckMade | None:
    step = desk.step(number, "check")
    if step is None:
        return None
    if step.kind != "check":
        tried = step.kind == "attempt"
        kind = f"to try {step.id} on {step.fault}" if tried else "a line to order"
        mend = f"{call('fitted')} {number} cured; or not-cured." if tried else f"{call('bought')} {number}"
        desk.wrong.add(f"Step {number} is {kind}, not a check.", f"Say: {mend}")
        return None
    return _result(desk, step.fault, step.id, result, cost_minor)


def _result_alone(desk: Desk, subject: str, word: str, cost_minor: int | None) -> events.CheckMade | None:
    """A result without its check, where only one check of the fault shows it."""
    fault = desk.fault(subject)
    if fault is None:
        return None
    results = {check.id: _results(fault, check) for check in fault.checks}
    showing = [check for check, shown in results.items() if word in shown]
    if len(showing) == 1:
        return _result(desk, fault.id, showing[0], word, cost_minor)
    if showing:
        check = desk.ask(f"Which check showed {word!r}?", showing)
        if check is not None:
            return _result(desk, fault.id, check, word, cost_minor)
        desk.wrong.add(f"More than one check of {fault.id} shows {word!r}.", f"Name it: {', '.join(showing)}.")
        return None
    every = [result for shown in results.values() for result in shown]
    desk.pick(word, every, f"result of a check of {fault.id}", ask=nobody, whole=True)
    return None


def _result(
    desk: Desk, subject: str, check_word: str, word: str | None, cost_minor: int | None
) -> events.CheckMade | None:
    fault = desk.fault(subject)
    if fault is None:
        return None
    checks = {check.id: check for check in fault.checks}
    titles = {name: check.title for name, check in checks.items()}
    name = desk.pick(check_word, titles, f"check of {fault.id}")
    if name is None:
        return None
    results = _results(fault, checks[name])
    if word is None:
        answer = desk.ask("What did it show?", results)
        if answer is None:
            desk.wrong.add(f"What did {name} show?", f"Say one of: {', '.join(results)}.")
            return None
        word = answer
    result = desk.pick(plain_answer(word, results), results, f"result of {name}", whole=True)
    if result is None:
        return None
    own = checks[name].cost_minor + desk.unpaid_access(checks[name].access)
    cost = own if cost_minor is None else cost_minor
    desk.mind_said_again([
        entry.number for entry in desk.standing if isinstance(made := entry.happening, events.CheckMade)
        and (made.fault, made.check, made.result) == (fault.id, name, result)
    ])  # fmt: skip
    return desk.made(
        events.CheckMade, fault=fault.id, check=name, result=result, currency=desk.currency, cost_minor=cost
    )  # fmt: skip


def _shown(desk: Desk, subject: str) -> frozenset[str]:
    fault = desk.surely(subject)
    return frozenset() if fault is None else frozenset(r for check in fault.checks for r in _results(fault, check))


def _results(fault: Fault, check: Check) -> list[str]:
    return list(likelihoods(check, list(prior(fault))))


def say() -> str:
    return (
        f"Say: {call('found')} STEP RESULT; or FAULT CHECK RESULT; or FAULT is CAUSE; or FAULT is-not CAUSE;"
        " or FAULT is-back; or FAULT works, by itself or after a twin was cured; or FAULT still, after that;"
        ' or FAULT tested, by somebody licensed, once it is cured; or new "what is wrong".'
    )
