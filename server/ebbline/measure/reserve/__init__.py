"""Zero, the end, and the reserve between them; the ladder of events with what remained at each.
Needs a run; the rule for zero and end stands in ``span`` and nowhere else.
"""
