"""The documented API: parse, call, answer."""
