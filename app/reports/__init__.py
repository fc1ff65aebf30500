"""Sheets that leave the program: reports as PDF and tables as CSV. Values in, bytes out."""
