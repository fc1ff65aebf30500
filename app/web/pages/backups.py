"""For administrators: when the last whole backup was made. Nothing is restored from here."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.web.dependencies import CurrentActor, SettingsDep, StoreDep
from app.web.pages.practice import places
from app.web.rendering import View, render
from app.work.backups import BackupState, backup_state

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, kw_only=True)
class BackupsView(View):
    """The last whole backup.

    Parameters
    ----------
    ago : how long ago, in words; empty where there was none
    places : the pages of the practice, of which this is one
    """

    state: BackupState
    ago: str
    warning_days: str
    places: list[tuple[str, str, bool]]


@router.get("/backups")
def show_backups(request: Request, store: StoreDep, settings: SettingsDep, actor: CurrentActor) -> Response:
    """When the last whole backup was made, what it holds, and whether that is too long ago."""
    state = backup_state(store, actor, warning_days=settings.backup_warning_days)
    ago = {None: "", 0: "less than a day ago", 1: "1 day ago"}.get(state.days, f"{state.days} days ago")
    view = BackupsView(
        heading="Backups",
        state=state,
        ago=ago,
        warning_days="1 day" if state.warning_days == 1 else f"{state.warning_days} days",
        places=places("/backups", actor),
    )
    return render(request, "pages/backups.html", view)
