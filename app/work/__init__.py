"""Use cases: one job each. Who may do it is checked first, then what was handed in, then it is done in full.

Those that only touch the database take a `PracticeScope`, opened by the door as one transaction; loading images
takes the whole `Store`, because a file must be kept before it is recorded.
"""
