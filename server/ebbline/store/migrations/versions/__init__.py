"""One module per step, each named by what it does."""
