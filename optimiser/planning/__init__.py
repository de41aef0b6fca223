"""Plan: options, the choice of the mix, what it comes to, and why this and not that."""
