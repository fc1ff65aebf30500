"""The coverage chart of the mouth as geometry: shapes, where they stand, and nothing about pages.

The mouth is drawn open, as seen from the front: the upper arch bows up with its roots above, the lower arch bows
down with its roots below, the patient's right on the viewer's left. Numbers are units of the drawing, about
6 to a millimetre of tooth; they are made for reading across a chair, not for measuring.
"""
