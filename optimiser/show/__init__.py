"""Show an answer: on a terminal, as JSON, as CSV. All sentences live in ``wording``."""
