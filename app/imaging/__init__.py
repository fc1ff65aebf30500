"""Radiograph files: bytes to grey arrays, pictures for the page, and drawings that stand in for radiographs."""
