"""Settings of the server: each from the environment, as ``FULLCOUNT_`` and its name in capitals."""

from __future__ import annotations

import ipaddress
import re
from pathlib import Path

from pydantic import Field, ValidationInfo, field_validator
from pydantic_settings import BaseSettings, SettingsConfigDict

_HOST = re.compile(r"[A-Za-z0-9]([A-Za-z0-9._-]*[A-Za-z0-9])?|[0-9A-Fa-f:.]+")


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
    max_files: int = Field(60, ge=1, le=900, description="image files taken in one request")
    hosts: str = Field(
        "",
        description="further names under which the program is reached, with commas: behind a proxy, the name in "
        "the browser's address. Loopback, the listening host and this machine's own name are known",
    )
    proxies: str = Field(
        "",
        description="addresses or networks of proxies, with commas, whose X-Forwarded-For and -Proto are believed",
    )
    secure_cookies: bool = Field(False, description="send the log-in cookie over HTTPS only; set it behind HTTPS")

    @field_validator("hosts", "proxies")
    @classmethod
    def _each_can_be(cls, value: str, info: ValidationInfo) -> str:
        """A name or address that cannot be would silently shut everybody out, or be believed by nobody."""
        for each in (part.strip() for part in value.split(",")):
            if each and info.field_name == "hosts" and _HOST.fullmatch(each) is None:
                raise ValueError(f'"{each}" is no host name: write names with commas, without port or https://')
            if each and info.field_name == "proxies":
                try:
                    ipaddress.ip_network(each)
                except ValueError as error:
                    raise ValueError(f'"{each}" is no address or network ({error})') from error
        return value
