"""The list of sessions, searched, and everything recorded in one.
Needs results that are at hand or quick to have; never changes a record.
"""
