"""The measuring core: one session's records in, one result out; pure.

Rooms by subject, from the bottom up: ``numerics``; ``time``; ``track``; ``laps``; ``energy``,
``trip_meter`` and ``recharge``; ``run`` joins them; ``reserve``, ``full_throttle`` and
``power_log`` ask it; ``analysis`` puts the result together. No web, no database, no files.
"""
