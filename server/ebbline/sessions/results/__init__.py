"""What a session means: its analysis, the cache of results, and what is published of it.
Needs its document; never changes a record.
"""
