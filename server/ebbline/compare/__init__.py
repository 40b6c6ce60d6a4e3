"""Many sessions, one answer: what a campaign of drives says of cars.

Results of single sessions in, statistics over them out; no web, no database, no files. In rooms,
lowest first: ``doubt`` (intervals as variances), ``cars`` (sessions grouped by car),
``random_effects`` (a line through cars that differ among themselves), ``reserve_model`` (fixed
amount or share of the pack), ``influence``, ``tolerance`` and ``trust`` (what a warning is worth),
``repeats``, ``pair`` (two sessions), ``statement`` (what can be concluded, in words) and
``comparison``, which puts all together.
"""
