"""What a session means: its analysis, the cache of results, and what can be published of it.
Needs its document; never changes a record.
"""
