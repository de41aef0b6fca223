"""Choose the mix: the only room that knows the integer program and its solvers."""
