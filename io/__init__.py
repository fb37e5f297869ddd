"""Bytes in, bytes out: tables, formats, results, and the command."""
