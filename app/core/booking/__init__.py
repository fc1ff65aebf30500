"""Appointments in time: the practice's clock, opening hours, free times."""
