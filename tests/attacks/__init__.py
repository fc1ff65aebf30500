"""Attacks on the program: each is tried for real, and shown to come to nothing."""
