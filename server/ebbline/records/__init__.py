"""Frozen records shared by every layer: the typed view of one session's evidence and its result.

A record of evidence holds what was observed, never what was computed from it. Absent and
``None`` both mean 'not known', never zero; in columns 'not known' is NaN.

Time: ``t_ms`` is the device's own stamp in milliseconds since the Unix epoch; adding the
device's ``clock_offset_ms`` gives session time. The wire format lives in ``exchange``.
"""
