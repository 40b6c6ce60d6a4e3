"""Flask, and the only place that imports it."""
