"""The texts of letters and messages as the practice wrote them."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import CheckConstraint
from sqlmodel import Field

from app.storage.columns import Row, moment_field
from app.storage.versions import Versioned


class LetterText(Row, Versioned, table=True):
    """A text with placeholders."""

    __tablename__ = "letter_text"
    __table_args__ = (CheckConstraint("kind in ('letter', 'email', 'text')", name="kind_known"),)

    kind: str = Field(description="letter, email or text (a short message)")
    title: str = Field(description="name under which it is chosen")
    subject: str = Field(default="", description="first line of a letter or an e-mail; empty for a short message")
    body: str
    retired: bool = False
    version: int = 1
    edited_by: str = Field(foreign_key="staff.id")
    edited_at: datetime = moment_field()
