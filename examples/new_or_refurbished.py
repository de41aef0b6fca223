"""New or refurbished? The starter of the invented library van, and at what price the answer would change."""

from datetime import date
from pathlib import Path

from optimiser import job_folder, service
from optimiser.show import tables

job = job_folder.job(Path(__file__).parent / "marigold", date(2026, 11, 24))
# one attempt a fault and no checks, so that the options stand side by side
job = job.model_copy(update={"settings": job.settings.model_copy(update={"fallbacks": False})})
answer = service.compare(job, "starter")

frame = tables.comparison(answer)
starters = frame[frame["repair"] == "starter"]
print(
    starters[["condition", "supplier", "alone", "landed", "chance", "value_if_forced", "loses"]].to_string(index=False)
)

chosen = frame[frame["chosen"] == "yes"].iloc[0]
print()
print(f"The plan takes the {chosen['condition']} one from {chosen['supplier']} at {chosen['landed']} landed.")
print(
    f"It stays the choice up to {chosen['price_up_to']} alone, and down to a chance of {chosen['chance_down_to']:.4f}."
)
