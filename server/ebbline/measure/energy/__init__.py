"""Energy drawn from the pack: what the displays bound, what was expected, and the curve between.
Needs readings, a track and the trip meter's ratio; never touches the recharge.
"""
