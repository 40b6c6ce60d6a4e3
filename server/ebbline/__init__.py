"""Ebbline: what an electric car does at the bottom of its battery, with its doubt.

See DEVELOPERS.md for the layout. Nothing is imported here, so that the measuring core can be
used without the web parts.
"""

__version__ = "0.1.0"
