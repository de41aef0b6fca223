"""The record of a job: what happened and the plans made, in ``record.sqlite`` inside the job folder."""

from optimiser.record.store import RECORD_FILE, WAIT_SECONDS, Recorded, Store
from optimiser.record.trouble import DamagedRecordError, NewerRecordError

__all__ = [
    "RECORD_FILE",
    "WAIT_SECONDS",
    "DamagedRecordError",
    "NewerRecordError",
    "Recorded",
    "Store",
]
