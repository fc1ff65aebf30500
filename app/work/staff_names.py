"""What people who work here are called."""

from __future__ import annotations

from app.storage.people import Staff
from app.storage.practice_scope import PracticeScope


def staff_names(scope: PracticeScope) -> dict[str, str]:
    """The names of everybody who works or worked in the practice, by id."""
    return {each.id: each.name for each in scope.all(scope.select(Staff))}
