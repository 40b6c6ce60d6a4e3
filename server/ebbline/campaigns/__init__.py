"""Many sessions at once: saved selections with their definitions, and what they say together.

The same kind of functions as in ``sessions``, on which it stands; web and cli call these alike.
"""
