"""A campaign as an open data package (Frictionless Data Package), for others to recompute: tables,
what describes them, and a ZIP of it all.
"""
