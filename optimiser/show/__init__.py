"""Show an answer: on a terminal, as JSON, as CSV. Sentences are in ``*_words``, shared ones in ``wording``."""
