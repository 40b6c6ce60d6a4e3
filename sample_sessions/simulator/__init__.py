"""A small world of its own to test Ebbline in: truth on one side, evidence on the other.

``course``, ``car``, ``drive`` and ``recharge`` say what happened; ``receiver``, ``display``,
``picture`` and ``recorder`` say what a phone, a film and a passenger would have noted of it;
``invented`` and ``setup`` hold what all samples share. Nothing here uses Ebbline's
own measuring core, so that the one can be held against the other.
"""
