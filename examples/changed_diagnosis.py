"""A changed diagnosis: the blower motor turns out to spin, so the odds move, and the plan with them."""

from datetime import date
from pathlib import Path

from optimiser import read, service
from optimiser.model.job import Job


def with_odds(job: Job, fault_id: str, odds: dict[str, float]) -> Job:
    """The same job with other odds for the causes of one fault."""
    faults = [
        fault.model_copy(update={"causes": {cause: odds[cause] for cause in fault.causes}})
        if fault.id == fault_id
        else fault
        for fault in job.faults
    ]
    return job.model_copy(update={"faults": tuple(faults)})


job = read.job(Path(__file__).parent / "marigold", date(2026, 11, 24))
before = service.plan(job)
after = service.plan(with_odds(job, "blower", {"fuse": 1, "resistor": 8, "blower-motor": 0.2}), last=before.selection)

for old, new in zip(before.choices, after.choices, strict=True):
    was, now = (None if c.option is None else c.option.key[1:] for c in (old, new))
    if was != now:
        print(f"{old.fault.id}: {was or 'left'} -> {now or 'left'}")
money = job.currency
print(f"chance of the blower: {before.choice('blower').chance:.2f} -> {after.choice('blower').chance:.2f}")
print(f"expected fixes: {before.expected_fixes:.3f} -> {after.expected_fixes:.3f}")
print(f"unspent: {money.text(before.purse.unspent_minor)} -> {money.text(after.purse.unspent_minor)}")
