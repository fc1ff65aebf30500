"""Fullcount: is a full-mouth series of intraoral radiographs complete, while the patient is still in the chair?

Rooms, and which way they point (each imports only rooms named after it):

``web``, ``cli``
    the doors: they parse, call one use case, and show what it answered
``work``
    the use cases: one job, one transaction each
``storage``, ``imaging``, ``exchange``
    each knows one outside thing: the database and the image files; radiograph files; JSON files
``core``
    teeth, targets, templates, audit, retake plan: values in, values out, no I/O and no framework
"""
