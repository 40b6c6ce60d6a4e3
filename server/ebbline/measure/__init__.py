"""The measuring core: arrays and records in, records out. No web, no database, no files."""
