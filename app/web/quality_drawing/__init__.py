"""Charts of the review as SVG: values in, markup out; no script, readable in black on white.

What a line or a point means is told by its dash pattern or shape and by words, never by colour alone. Every
drawing carries a title and a description; the page sets its table beside it.
"""
