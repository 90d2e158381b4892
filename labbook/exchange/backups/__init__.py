"""Backups: one file that holds the whole record, verified when it is made and when it is read."""
