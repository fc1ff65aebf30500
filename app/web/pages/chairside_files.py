"""What became of the files that were loaded."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Outcome = Literal["taken", "already", "elsewhere", "refused"]

STATUS: dict[Outcome, int] = {"taken": 201, "already": 409, "elsewhere": 409, "refused": 422}
"""HTTP status of a request with one file."""


@dataclass(frozen=True, kw_only=True)
class FileResult:
    """What became of one file.

    Parameters
    ----------
    outcome : ``taken``; ``already`` an image of this series; ``elsewhere``: asks whether somebody is sure;
        ``refused``
    asks : whether a person may say that they are sure
    """

    name: str
    outcome: Outcome
    message: str
    exposure: str = ""
    slot: str = ""
    asks: bool = False
