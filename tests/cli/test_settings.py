"""Settings come from command line, environment and one file; whatever cannot be is told with its mend."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from app.cli.settings_in_force import (
    as_toml,
    check_data_folder,
    contradictions,
    example,
    is_loopback,
    settings_in_force,
)
from app.core.errors import InputError
from app.settings import Settings

ROOT = Path(__file__).resolve().parents[2]
EXAMPLE = ROOT / "shared" / "running" / "fullcount.example.toml"


@pytest.fixture(autouse=True)
def _no_settings_of_this_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in list(os.environ):
        if name.upper().startswith("FULLCOUNT_"):
            monkeypatch.delenv(name)


def written(folder: Path, text: str) -> str:
    file = folder / "fullcount.toml"
    file.write_text(text, encoding="utf-8")
    return str(file)


def test_command_line_wins_over_environment_and_environment_over_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = written(tmp_path, 'host = "192.0.2.1"\nport = 4001\nidle_minutes = 30\n')
    monkeypatch.setenv("FULLCOUNT_PORT", "4002")
    monkeypatch.setenv("FULLCOUNT_HOST", "192.0.2.2")
    found = settings_in_force({"host": "192.0.2.3"}, file)

    assert (found.settings.host, found.settings.port, found.settings.idle_minutes) == ("192.0.2.3", 4002, 30)
    assert [found.origins[name] for name in ("host", "port", "idle_minutes", "max_pixels")] == [
        "--host",
        "FULLCOUNT_PORT",
        file,
        "default",
    ]


def test_the_environment_may_name_the_file_for_every_command(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FULLCOUNT_CONFIG", written(tmp_path, f'data_folder = "{tmp_path}/kept"\n'))

    assert settings_in_force().settings.data_folder == Settings().data_folder == tmp_path / "kept"


def refusal(tmp_path: Path, text: str) -> str:
    with pytest.raises(InputError) as refused:
        settings_in_force(config=written(tmp_path, text))
    return str(refused.value).replace(f"{tmp_path}/", "")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("prot = 1\n", 'fullcount.toml: prot: no such setting. Did you mean "port"? Correct it, or take it out'),
        ("[server]\nport = 1\n", "fullcount.toml: server: a section, and settings stand in none."),
        (
            "port = 70000\n",
            "fullcount.toml: port: Input should be less than or equal to 65535; 70000 stood there.",
        ),
        ('port = "many"\n', "fullcount.toml: port: Input should be a valid integer"),
        ("port = true\n", "fullcount.toml: port: Input should be a number; True stood there."),
        (
            'log_format = "xml"\n',
            "log_format: Input should be 'text' or 'json'; 'xml' stood there. Correct it: lines",
        ),
        ("image_workers = -1\nport = -1\n", "Also wrong: fullcount.toml: image_workers."),
        ("port = \n", "fullcount.toml: this is not TOML: Invalid value (at line 1, column 8). Correct that place"),
        ('data_folder = "caf\\xe9"\n', "this is not TOML"),
    ],
)
def test_what_cannot_be_names_the_key_what_stood_there_and_the_mend(tmp_path: Path, text: str, told: str) -> None:
    assert told in refusal(tmp_path, text)


def test_a_token_that_is_too_short_is_refused_and_not_shown(tmp_path: Path) -> None:
    told = refusal(tmp_path, 'metrics_token = "heron"\n')

    assert "16 characters or more; what stood there is not shown" in told
    assert "heron" not in told


def test_an_unknown_variable_of_the_environment_names_the_nearest(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FULLCOUNT_SECURE_COOKIE", "true")

    with pytest.raises(InputError, match=r'FULLCOUNT_SECURE_COOKIE: no such.*"FULLCOUNT_SECURE_COOKIES"'):
        settings_in_force()


@pytest.mark.parametrize("name", ["missing.toml", "."])
def test_a_file_that_cannot_be_read_is_told(tmp_path: Path, name: str) -> None:
    with pytest.raises(InputError, match="the file of settings cannot be read"):
        settings_in_force(config=str(tmp_path / name))


@pytest.mark.parametrize(
    ("host", "only_here"),
    [
        ("127.0.0.1", True),
        ("127.8.8.8", True),
        ("::1", True),
        ("localhost", True),
        ("0.0.0.0", False),
        ("::", False),
    ],
)
def test_a_warning_is_given_beyond_this_machine_without_secure_cookies(host: str, only_here: bool) -> None:
    told = contradictions(Settings(host=host))

    assert is_loopback(host) is only_here
    assert bool(told) is not only_here
    assert not contradictions(Settings(host=host, secure_cookies=True))


def test_other_contradictions_are_told() -> None:
    told = contradictions(
        Settings(host="0.0.0.0", secure_cookies=True, image_workers=0, max_upload_bytes=9, max_request_bytes=8)
    )

    assert [each.split()[0] for each in told] == ["image_workers", "max_upload_bytes"]


def test_a_data_folder_that_cannot_be_written_is_told_before_anything_starts(tmp_path: Path) -> None:
    (tmp_path / "data").write_text("a file stands in its place")

    with pytest.raises(InputError, match=r"--data_folder: the data folder .*cannot be written"):
        check_data_folder(settings_in_force({"data_folder": tmp_path / "data"}))


def test_what_is_printed_is_toml_that_says_the_same(tmp_path: Path) -> None:
    first = settings_in_force({"data_folder": Path('a "b" \\ c\td'), "secure_cookies": True})
    again = settings_in_force(config=written(tmp_path, as_toml(first)))

    assert again.settings.model_dump() == first.settings.model_dump()


def test_the_token_is_never_printed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FULLCOUNT_METRICS_TOKEN", "four-and-twenty-herons")
    printed = as_toml(settings_in_force())

    assert "herons" not in printed
    assert re.search(r"metrics_token is set, and not shown +# FULLCOUNT_METRICS_TOKEN", printed)


def test_the_example_says_the_defaults() -> None:
    """Every setting stands in it, commented out at its default."""
    text = EXAMPLE.read_text(encoding="utf-8")
    values = tomllib.loads(re.sub(r"^# (\w+ = )", r"\1", text, flags=re.MULTILINE))

    assert text == example()
    assert tomllib.loads(text) == {}
    assert set(values) == set(Settings.model_fields)
    assert Settings(**values) == Settings()


@pytest.mark.parametrize("name", sorted(Settings.model_fields))
def test_the_readme_says_the_default(name: str) -> None:
    row = re.search(
        rf"^\| `FULLCOUNT_{name.upper()}` \| ([^|]*) \|", (ROOT / "README.md").read_text("utf-8"), re.MULTILINE
    )
    default = Settings.model_fields[name].get_default()
    shown = f"{default:,}" if isinstance(default, int) and default is not False else str(default).lower()

    assert row is not None
    assert row.group(1).strip("`").replace("(empty)", "") in (shown, str(default))


def test_the_command_prints_what_is_in_force_and_tells_contradictions(tmp_path: Path) -> None:
    result = subprocess.run(
        [sys.executable, "-m", "app", "config", "--config", written(tmp_path, 'host = "0.0.0.0"\n')],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
    )

    assert (result.returncode, tomllib.loads(result.stdout)["host"]) == (1, "0.0.0.0")
    assert result.stderr.startswith('warning: listening on "0.0.0.0", beyond this machine, without secure_cookies')
