"""Style sheets and scripts: the hash of their content stands in the address, so browsers may keep them for ever.

One hash over the whole folder is the first part of the path, which leaves relative imports between modules alone.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

STATIC = Path(__file__).resolve().parents[2] / "static"


class StaticVersion:
    """The content of the folder as it was when the server started."""

    def __init__(self, folder: Path = STATIC) -> None:
        self.folder = folder
        digest = hashlib.sha256()
        for file in sorted(path for path in folder.rglob("*") if path.is_file()):
            digest.update(str(file.relative_to(folder)).encode() + b"\0" + file.read_bytes() + b"\0")
        self.hash = digest.hexdigest()[:12]

    def address(self, name: str) -> str:
        """Where a file is served.

        Raises
        ------
        FileNotFoundError
            There is no such file, so that a wrong name fails when the page is rendered.
        """
        if not (self.folder / name).is_file():
            raise FileNotFoundError(f"static/{name}")
        return f"/static/{self.hash}/{name}"


class HashedStatic(StaticFiles):
    """Serves ``/static/HASH/name``: for ever under the present hash, not kept under any other."""

    def __init__(self, version: StaticVersion) -> None:
        super().__init__(directory=version.folder)
        self.version = version

    async def get_response(self, path: str, scope: Scope) -> Response:
        """The file below the hash."""
        given, _, name = path.partition("/")
        answer = await super().get_response(name or "missing", scope)
        present = given == self.version.hash
        answer.headers["Cache-Control"] = "public, max-age=31536000, immutable" if present else "no-cache"
        return answer
