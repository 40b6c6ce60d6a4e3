"""Fault injection: whatever happens to phone, network or server, what the screen confirmed is on
the server afterwards, exactly once.

A real Chromium in a process of its own, the real server in another, and between them a line that
can be disturbed. Each run is made from a number: the same number, the same taps and faults; only
the moment at which a kill strikes varies with the machine.
"""
