"""How a session stands while it is being driven, quickly and provisionally.
Needs what has arrived; never touches results, which say it properly later.
"""
