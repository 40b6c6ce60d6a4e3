"""What a session holds: the set-up's revisions, taps, readings, fixes, photos, and all of it as one
document. Needs the store and the session file's checks; never asks what any of it means.
"""
