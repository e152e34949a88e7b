"""Hears a guitar line, grades it against the changes, shows it and keeps it."""
