"""The car's trip distance against ours, and how late its readings were noted.
Needs readings and a track; never changes the track.
"""
