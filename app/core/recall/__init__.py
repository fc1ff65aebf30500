"""Recall: when radiographs fall due, and whether there is room for them."""
