"""What is published of a session: records in, bytes out. No web, no database, no clock."""
