"""Files in and out: sessions as files, and GPX tracks and CSV logs that other devices recorded.
Needs ``records``; never touches results.
"""
