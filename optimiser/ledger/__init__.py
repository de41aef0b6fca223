"""The record of a job: what happened and the plans made, in ``record.sqlite`` inside the job folder."""

from optimiser.ledger.sqlite_errors import DamagedRecordError, NewerRecordError
from optimiser.ledger.store import RECORD_FILE, WAIT_SECONDS, Recorded, Store

__all__ = [
    "RECORD_FILE",
    "WAIT_SECONDS",
    "DamagedRecordError",
    "NewerRecordError",
    "Recorded",
    "Store",
]
