"""The independent witness: every figure of a plan again, straight from the job. Imports the model alone."""
