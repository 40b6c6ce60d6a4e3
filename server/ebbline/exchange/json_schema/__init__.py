"""Our documents described for other programs, in JSON Schema (draft 2020-12), made from what the
program itself checks and writes.
"""
