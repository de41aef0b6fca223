"""A changed diagnosis: the look at the charging circuit says that the regulator is dead, and the plan moves with it."""

from datetime import date
from pathlib import Path

from optimiser import job_folder, service
from optimiser.model.evidence import Finding

job = job_folder.job(Path(__file__).parent / "look-first", date(2026, 11, 25))
before = service.plan(job)
look = before.do_first[0]
print(f"first: {look.check} on {look.fault}, {look.minutes} min")

seen = {look.fault: (Finding(look.check, "rise"),)}
after = service.plan(job.model_copy(update={"seen": seen}), last=before.selection)

for old, new in zip(before.choices, after.choices, strict=True):
    was, now = ("left" if c.route is None else " ".join(c.route.first_step[1:]) for c in (old, new))
    if was != now:
        print(f"{old.fault.id}: {was} -> {now}")
for odds in after.odds[look.fault]:
    print(f"{odds.cause}: {odds.written:.2f} -> {odds.now:.2f}")
money = job.currency
print(f"expected fixes: {before.expected_fixes:.3f} -> {after.expected_fixes:.3f}")
print(f"kept for fallbacks: {money.text(before.purse.fallbacks_minor)} -> {money.text(after.purse.fallbacks_minor)}")
print(f"unspent: {money.text(before.purse.unspent_minor)} -> {money.text(after.purse.unspent_minor)}")
