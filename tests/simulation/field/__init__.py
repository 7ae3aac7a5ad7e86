"""The simulated world: it knows nothing of the package that judges it."""
