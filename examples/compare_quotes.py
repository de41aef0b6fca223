"""Quotes from several sheets side by side, and which of them the plan takes."""

from datetime import date
from pathlib import Path

from optimiser import job_folder, service
from optimiser.show import tables

job = job_folder.job(Path(__file__).parent / "marigold", date(2026, 11, 24))
# one attempt a fault and no checks, so that the options stand side by side
job = job.model_copy(update={"settings": job.settings.model_copy(update={"fallbacks": False})})
quotes = tables.quotes(job)
ordered = tables.orders(service.plan(job)).set_index("quote")["packs"]

quotes["ordered"] = quotes["quote"].map(ordered).fillna(0).astype(int)
columns = ["supplier", "condition", "price", "pack", "price_each", "postage", "good_chance", "lead_days", "ordered"]
for part in ("front-drum", "rear-cylinder", "starter-motor"):
    print(f"\n{part}")
    print(quotes[quotes["part"] == part][columns].to_string(index=False))
