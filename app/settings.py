"""Settings of the server: each from the environment, as ``FULLCOUNT_`` and its name in capitals."""

from __future__ import annotations

from pathlib import Path

from pydantic import Field
from pydantic_settings import BaseSettings, SettingsConfigDict


class Settings(BaseSettings):
    """Every setting with its unit, default and one line of help."""

    model_config = SettingsConfigDict(env_prefix="FULLCOUNT_", extra="ignore")

    data_folder: Path = Field(Path("data"), description="folder that holds the database and the image files")
    host: str = Field("127.0.0.1", description="address to listen on")
    port: int = Field(8123, ge=0, le=65535, description="port to listen on; 0 for any free one")
    max_upload_bytes: int = Field(60_000_000, ge=1, description="largest image file taken, in bytes")
    max_request_bytes: int = Field(150_000_000, ge=1, description="largest request with images, in bytes")
    max_pixels: int = Field(100_000_000, ge=1, description="largest image taken, in pixels")
    image_workers: int = Field(2, ge=0, le=64, description="processes that read image files; 0: the server itself")
    idle_minutes: int = Field(12 * 60, ge=1, description="minutes without a request after which a log-in ends")
    log_in_hours: int = Field(16, ge=1, le=24 * 31, description="hours after which a log-in ends, however busy")
    pin_hours: int = Field(12, ge=1, le=48, description="hours after a whole log-in in which the PIN opens there")
    secure_cookies: bool = Field(False, description="send the log-in cookie over HTTPS only; set it behind HTTPS")
