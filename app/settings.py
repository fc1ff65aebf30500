"""Settings of the server.

Each stands in the environment, as ``FULLCOUNT_`` and its name in capitals, or under its name in one TOML file
(named by ``FULLCOUNT_CONFIG`` or ``--config``). The environment wins over the file, the command line over both.
"""

from __future__ import annotations

import ipaddress
import os
import re
from pathlib import Path
from typing import Any, Literal

from pydantic import Field, SecretStr, ValidationInfo, field_validator
from pydantic_settings import (
    BaseSettings,
    PydanticBaseSettingsSource,
    SettingsConfigDict,
    TomlConfigSettingsSource,
)

PREFIX = "FULLCOUNT_"
CONFIG = "FULLCOUNT_CONFIG"
"""Names the file in the environment."""
SHORTEST_TOKEN = 16

_HOST = re.compile(r"[A-Za-z0-9]([A-Za-z0-9._-]*[A-Za-z0-9])?|[0-9A-Fa-f:.]+")


class Settings(BaseSettings):
    """Every setting with its unit, default and one line of help."""

    model_config = SettingsConfigDict(env_prefix=PREFIX, extra="ignore")

    data_folder: Path = Field(Path("data"), description="folder that holds the database and the image files")
    host: str = Field("127.0.0.1", min_length=1, description="address to listen on")
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
    backup_warning_days: int = Field(3, ge=0, description="days without a whole backup before the warning")
    log_in_hours: int = Field(16, ge=1, le=24 * 31, description="hours after which a log-in ends, however busy")
    pin_hours: int = Field(12, ge=1, le=48, description="hours after a whole log-in in which the PIN opens there")
    secure_cookies: bool = Field(False, description="send the log-in cookie over HTTPS only; set it behind HTTPS")
    # Running it
    log_format: Literal["text", "json"] = Field("text", description="lines of the log: text for people, or json")
    log_level: Literal["debug", "info", "warning", "error"] = Field(
        "info", description="least weight of a line that is logged; info has a line for each request"
    )
    metrics_token: SecretStr = Field(
        SecretStr(""), description="whoever sends it as bearer token may read /metrics; empty: this machine only"
    )
    min_free_disk_bytes: int = Field(
        500_000_000, ge=0, description="free disk space under which /ready says no, in bytes"
    )
    shutdown_seconds: int = Field(
        30, ge=0, le=3600, description="seconds that requests under way have to end when the server stops"
    )
    header_seconds: int = Field(
        10, ge=1, le=3600, description="seconds in which the head of a request must have come"
    )
    body_seconds: int = Field(
        20, ge=1, le=3600, description="seconds for which a request, or the reader of an answer, may stall"
    )
    min_bytes_per_second: int = Field(
        4_000, ge=1, description="slowest rate at which a request may arrive, beyond the stalling allowed"
    )
    max_connections: int = Field(
        500, ge=10, le=100_000, description="connections held at once; what comes beyond is told to wait"
    )

    @field_validator("*", mode="before")
    @classmethod
    def _no_truth_for_a_number(cls, value: Any, info: ValidationInfo) -> Any:
        """``port = true`` would be taken as 1."""
        field = cls.model_fields.get(info.field_name or "")
        if isinstance(value, bool) and field is not None and field.annotation is int:
            raise ValueError("Input should be a number")
        return value

    @field_validator("data_folder")
    @classmethod
    def _home(cls, value: Path) -> Path:
        """A folder that is really called "~" is never meant."""
        return value.expanduser()

    @field_validator("metrics_token")
    @classmethod
    def _hard_to_guess(cls, value: SecretStr) -> SecretStr:
        if 0 < len(value.get_secret_value()) < SHORTEST_TOKEN:
            raise ValueError(f"Input should have {SHORTEST_TOKEN} characters or more")
        return value

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

    @classmethod
    def settings_customise_sources(
        cls,
        settings_cls: type[BaseSettings],
        init_settings: PydanticBaseSettingsSource,
        env_settings: PydanticBaseSettingsSource,
        dotenv_settings: PydanticBaseSettingsSource,
        file_secret_settings: PydanticBaseSettingsSource,
    ) -> tuple[PydanticBaseSettingsSource, ...]:
        """What is given by name, then the environment, then the file."""
        named = settings_cls.model_config.get("toml_file") or os.environ.get(CONFIG)
        if not named:
            return init_settings, env_settings
        return init_settings, env_settings, TomlConfigSettingsSource(settings_cls, toml_file=Path(str(named)))


def in_file(file: Path) -> type[Settings]:
    """The settings as they stand with that TOML file."""

    class InFile(Settings):
        model_config = SettingsConfigDict(toml_file=file)

    return InFile
