"""The settings in force: read from command line, environment and file, checked, each with where it came from."""

from __future__ import annotations

import ipaddress
import os
import tempfile
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import SecretStr, ValidationError

from app.core.errors import InputError, did_you_mean
from app.settings import CONFIG, PREFIX, Settings, in_file

DEFAULT = "default"


@dataclass(frozen=True, kw_only=True)
class InForce:
    """The settings, and where each came from.

    Parameters
    ----------
    origins : setting to ``--host``, ``FULLCOUNT_HOST``, the file's name, or ``default``
    """

    settings: Settings
    origins: Mapping[str, str]


def settings_in_force(given: Mapping[str, Any] | None = None, config: str | None = None) -> InForce:
    """Read every setting.

    Parameters
    ----------
    given : settings named on the command line
    config : TOML file named there; else the one that ``FULLCOUNT_CONFIG`` names, if any

    Raises
    ------
    InputError
        A key that is no setting (names the nearest), a value that cannot be (names key, value and mend), or a file
        that cannot be read.
    """
    given = dict(given or {})
    named = config or os.environ.get(CONFIG, "")
    file = Path(named) if named else None
    environment = _in_environment()
    in_the_file = _in_file(file) if file is not None else {}
    origins = {
        name: f"--{name}"
        if name in given
        else environment.get(name) or (str(file) if name in in_the_file else DEFAULT)
        for name in Settings.model_fields
    }
    try:
        settings = (in_file(file) if file is not None else Settings)(**given)
    except ValidationError as error:
        raise _told(error, origins) from error
    return InForce(settings=settings, origins=origins)


def _in_environment() -> dict[str, str]:
    """Setting to the variable that sets it."""
    found: dict[str, str] = {}
    for variable in os.environ:
        if not variable.upper().startswith(PREFIX) or variable.upper() == CONFIG:
            continue
        name = variable[len(PREFIX) :].lower()
        if name not in Settings.model_fields:
            known = [CONFIG, *(PREFIX + each.upper() for each in Settings.model_fields)]
            raise InputError(
                variable, f"no such setting.{did_you_mean(variable, known)} Correct it, or take it out"
            )
        found[name] = variable
    return found


def _in_file(file: Path) -> dict[str, Any]:
    try:
        with open(file, "rb") as opened:
            values = tomllib.load(opened)
    except OSError as error:
        raise InputError(
            str(file),
            f"the file of settings cannot be read ({error.strerror}). Check its name and who may read it",
        ) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise InputError(str(file), f"this is not TOML: {error}. Correct that place") from error
    for name, value in values.items():
        if name not in Settings.model_fields:
            what = "a section, and settings stand in none" if isinstance(value, dict) else "no such setting"
            raise InputError(
                f"{file}: {name}", f"{what}.{did_you_mean(name, Settings.model_fields)} Correct it, or take it out"
            )
    return values


def _told(error: ValidationError, origins: Mapping[str, str]) -> InputError:
    """The first that is wrong in full, the others by name."""
    first, *others = ((str(each["loc"][0]), each) for each in error.errors())
    name, fault = first
    field = Settings.model_fields[name]
    what = str(fault["msg"]).removeprefix("Value error, ")
    stood = "what stood there is not shown" if _is_secret(name) else f"{fault['input']!r} stood there"
    also = "".join(f" Also wrong: {_place(other, origins)}." for other, _ in others)
    return InputError(
        _place(name, origins),
        f"{what}; {stood}. Correct it: {field.description} (by default {_written(field.get_default())}).{also}",
    )


def _place(name: str, origins: Mapping[str, str]) -> str:
    origin = origins[name]
    return origin if origin.startswith(("--", PREFIX)) else f"{origin}: {name}"


def _is_secret(name: str) -> bool:
    return Settings.model_fields[name].annotation is SecretStr


def contradictions(settings: Settings) -> list[str]:
    """What is allowed each for itself and unwise together: a sentence each."""
    told: list[str] = []
    if not is_loopback(settings.host) and not settings.secure_cookies:
        told.append(
            f'listening on "{settings.host}", beyond this machine, without secure_cookies: log-ins and patients\' '
            "names travel readable for everybody on the network. Put a proxy with HTTPS before it, listen on "
            "127.0.0.1, and set secure_cookies"
        )
    if not is_loopback(settings.host) and settings.image_workers == 0:
        told.append(
            "image_workers is 0, and others than this machine can reach the server: one hostile image file can "
            "bring it down. Set image_workers to 1 or more"
        )
    if settings.max_upload_bytes > settings.max_request_bytes:
        told.append(
            f"max_upload_bytes ({settings.max_upload_bytes:,}) is more than max_request_bytes "
            f"({settings.max_request_bytes:,}): an image file that large never arrives. Raise max_request_bytes"
        )
    return told


def is_loopback(host: str) -> bool:
    """Whether only this machine reaches an address."""
    try:
        return ipaddress.ip_address(host.strip("[]").partition("%")[0]).is_loopback
    except ValueError:
        return host.lower() == "localhost"


def check_data_folder(found: InForce) -> None:
    """Find out by writing whether the data folder can be written.

    Raises
    ------
    InputError
        It cannot; names the folder and the system's reason.
    """
    folder = found.settings.data_folder
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder) as probe:
            probe.write(b"0")
            probe.flush()
    except OSError as error:
        raise InputError(
            _place("data_folder", found.origins),
            f'the data folder "{folder}" cannot be written ({error.strerror}). Make it, give it to the user that '
            "runs the program, or name another",
        ) from error


def _written(value: Any) -> str:
    """A value as TOML."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return f"{value:_}" if value >= 10_000 else str(value)
    text = value.get_secret_value() if isinstance(value, SecretStr) else str(value)
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(each if each.isprintable() else f"\\u{ord(each):04x}" for each in escaped) + '"'


def as_toml(found: InForce) -> str:
    """The settings in force as a TOML file, each with where it came from; no secret is shown."""
    lines = []
    for name, origin in found.origins.items():
        value = getattr(found.settings, name)
        hidden = _is_secret(name) and bool(value.get_secret_value())
        written = f"# {name} is set, and not shown" if hidden else f"{name} = {_written(value)}"
        lines.append(f"{written:<44}  # {origin}")
    return "\n".join(lines) + "\n"


def example() -> str:
    """A TOML file with every setting, commented out at its default."""
    lines = [
        "# Settings of Fullcount. Every line below that begins with a name is the default, commented out: take",
        "# the mark away and change it. Name this file with --config FILE or FULLCOUNT_CONFIG=FILE. The",
        "# environment (FULLCOUNT_ and the name in capitals) wins over it. python -m app config shows all.",
    ]
    for name, field in Settings.model_fields.items():
        lines += ["", f"# {field.description}", f"# {name} = {_written(field.get_default())}"]
    return "\n".join(lines) + "\n"
