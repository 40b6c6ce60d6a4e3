"""What users ask for, as plain functions over a database session; web and cli call these alike.

Rooms by subject, from the bottom up: ``access``, who may come in; ``records``, what a session
holds; ``files``, whole sessions and other devices' recordings as files; ``live`` and ``results``,
what it means while and after it is driven; ``publications``, what was published of it;
``overview``, all sessions. Callers import the module
that does the work: nothing is handed on here, so that a light call needs light imports.
"""
