"""The files for running it are sound: checked by the programs that read them, and by what the program knows."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from app.cli import COMMANDS
from app.settings import CONFIG, Settings

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / "shared" / "running"
UNITS = sorted([*FOLDER.glob("*.service"), *FOLDER.glob("*.timer")])
SERVICES = [each for each in UNITS if each.suffix == ".service"]
NGINX = (FOLDER / "nginx.conf").read_text(encoding="utf-8")


def sections(unit: Path) -> dict[str, dict[str, list[str]]]:
    """Section to key to its values."""
    found: dict[str, dict[str, list[str]]] = {}
    section = ""
    for line in unit.read_text(encoding="utf-8").splitlines():
        if line.startswith("["):
            section = line.strip("[]")
        elif "=" in line and not line.startswith("#"):
            name, _, value = line.partition("=")
            found.setdefault(section, {}).setdefault(name, []).append(value)
    return found


def test_every_file_stands_in_the_readme() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")

    assert [each.name for each in FOLDER.iterdir() if f"`{each.name}`" not in readme] == []


@pytest.mark.parametrize("unit", UNITS, ids=lambda each: each.name)
def test_a_unit_is_one_that_systemd_understands(unit: Path, tmp_path: Path) -> None:
    if shutil.which("systemd-analyze") is None:
        pytest.skip("systemd is not installed here")
    for each in UNITS:
        # The program does not lie at /opt/fullcount here; everything else is as it is.
        text = each.read_text(encoding="utf-8").replace("/opt/fullcount/.venv/bin/python", "/bin/true")
        (tmp_path / each.name).write_text(text)
    result = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", str(tmp_path / unit.name)],
        capture_output=True,
        text=True,
        timeout=60,
    )

    assert (result.returncode, result.stderr) == (0, "")


@pytest.mark.parametrize("unit", SERVICES, ids=lambda each: each.name)
def test_a_service_is_hardened(unit: Path) -> None:
    service = sections(unit)["Service"]

    assert service["User"] == ["fullcount"]
    assert service["ProtectSystem"] == ["strict"]
    assert service["NoNewPrivileges"] == ["yes"]
    assert service["CapabilityBoundingSet"] == [""]
    assert "MemoryMax" in service
    assert "/var/lib/fullcount" in service["ReadWritePaths"][0].split()


def exposure(unit: Path) -> float:
    """What systemd thinks of a unit: 0 (nothing allowed) to 10."""
    result = subprocess.run(
        ["systemd-analyze", "security", "--offline=true", str(unit)], capture_output=True, text=True, timeout=60
    )
    found = re.search(r"exposure level for \S+: ([0-9.]+)", result.stdout)
    assert found is not None, result.stderr
    return float(found.group(1))


@pytest.mark.parametrize("unit", SERVICES, ids=lambda each: each.name)
def test_systemd_finds_little_that_a_service_might_do(unit: Path) -> None:
    if shutil.which("systemd-analyze") is None:
        pytest.skip("systemd is not installed here")

    assert exposure(unit) <= 2.0


@pytest.mark.parametrize("unit", SERVICES, ids=lambda each: each.name)
def test_a_service_names_settings_and_commands_that_exist(unit: Path) -> None:
    service = sections(unit)["Service"]
    named = [each.partition("=")[0] for each in service["Environment"] if each.startswith("FULLCOUNT_")]
    known = {CONFIG, *(f"FULLCOUNT_{name.upper()}" for name in Settings.model_fields)}
    command = service["ExecStart"][0].partition("-m app ")[2].split()[0]

    if command == "backup" and not (ROOT / "app" / "cli" / "backup.py").exists():
        pytest.skip("the command that makes backups is not in this version")

    assert set(named) <= known
    assert command in COMMANDS


def test_the_service_is_not_killed_while_it_ends() -> None:
    seconds = int(sections(FOLDER / "fullcount.service")["Service"]["TimeoutStopSec"][0])

    assert seconds > Settings.model_fields["shutdown_seconds"].get_default()


def test_the_timer_starts_the_backup() -> None:
    """A timer starts the service of its own name."""
    assert (FOLDER / "fullcount-backup.service").exists()
    assert sections(FOLDER / "fullcount-backup.timer")["Timer"]["OnCalendar"]


def test_nginx_takes_its_file(tmp_path: Path) -> None:
    nginx = shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin")
    if nginx is None:
        pytest.skip("nginx is not installed here")
    made = subprocess.run(
        "openssl req -x509 -newkey rsa:2048 -nodes -subj /CN=x -keyout privkey.pem -out fullchain.pem".split(),
        cwd=tmp_path,
        capture_output=True,
        timeout=60,
    )
    assert made.returncode == 0
    (tmp_path / "site.conf").write_text(NGINX.replace("/etc/ssl/fullcount", str(tmp_path)))
    whole = tmp_path / "nginx.conf"
    whole.write_text(f"pid {tmp_path}/pid;\nevents {{}}\nhttp {{ include {tmp_path}/site.conf; }}\n")
    result = subprocess.run(
        [nginx, "-t", "-e", "stderr", "-c", str(whole)], capture_output=True, text=True, timeout=60
    )

    assert result.returncode == 0, result.stderr


def test_the_proxy_lets_through_what_the_program_takes_and_knows_where_it_is() -> None:
    largest = re.search(r"client_max_body_size (\d+)m;", NGINX)
    port = re.search(r"server 127\.0\.0\.1:(\d+);", NGINX)

    assert largest is not None
    assert port is not None
    assert int(largest.group(1)) * 2**20 > Settings.model_fields["max_request_bytes"].get_default()
    assert int(port.group(1)) == Settings.model_fields["port"].get_default()


@pytest.mark.parametrize("address", ["/metrics", "/ready"])
def test_the_proxy_keeps_what_is_for_this_machine_to_itself(address: str) -> None:
    assert f"location = {address} {{ return 404; }}" in NGINX
