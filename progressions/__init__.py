"""Knows the harmony, the time and the neck: pure values and functions, no files or devices."""
