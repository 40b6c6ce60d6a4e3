"""Bytes or text to records and back."""
