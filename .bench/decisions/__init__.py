"""Decision benchmark: simulated worlds, candidates side by side, shares of the best possible."""
