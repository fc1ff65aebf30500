"""Sheets that leave the program."""
