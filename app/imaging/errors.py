"""What is said of a file that is not taken."""

from __future__ import annotations

from app.core.errors import FullcountError


class ImageRefused(FullcountError):
    """The file is no image that this program takes.

    Parameters
    ----------
    name : the file's name as the person knows it
    what : what is wrong with it, what stood there; no full stop at the end
    mend : what to do about it, one sentence without its full stop
    """

    def __init__(self, name: str, what: str, mend: str) -> None:
        super().__init__(f"{name}: {what}. {mend}.")
        self.name = name
        self.what = what
        self.mend = mend
