"""Attacks on what is kept, each for real: a server in a process of its own, and what is done to it."""
