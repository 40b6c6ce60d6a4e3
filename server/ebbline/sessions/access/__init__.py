"""Who may come in: people with an account and a password, phones with a key to one session.
Needs the store alone; never touches what a session holds.
"""
