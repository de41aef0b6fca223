"""The only code that opens input files: the job folder, the sheets of quotes, and the data packed with the tool."""

from optimiser.job_folder.edits import with_cap, with_repair
from optimiser.job_folder.new_files import is_taken, job_bytes, put
from optimiser.job_folder.package_data import cautions_for, is_minded_with, is_raised, systems_named, with_their_like
from optimiser.job_folder.reader import JOB_FILE, job, must_be_job_folder

__all__ = [
    "JOB_FILE", "cautions_for", "is_minded_with", "is_raised", "is_taken", "job", "job_bytes", "must_be_job_folder",
    "put", "systems_named", "with_cap", "with_repair", "with_their_like",
]  # fmt: skip
