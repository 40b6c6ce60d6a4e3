"""Running the server: who can reach it, by which certificate, and its process.
Needs the store to see who has an account; never touches sessions.
"""
