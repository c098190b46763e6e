"""What script/start says on a machine that lacks something.

A copy of the scripts runs with a command path of its own, so that neither this
machine's packages nor its environment are touched.
"""

from __future__ import annotations

import shutil
import socket
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PLAIN = ("sh", "dirname", "sed", "grep", "ls", "cat", "env", "sha256sum", "cut")

# Answers as python3 does where python3-venv is not installed.
PYTHON = """
case "$*" in
*ensurepip*) exit {ensurepip} ;;
*version_info*) exit {old} ;;
-V) echo "Python 3.9.2" ;;
*) exec {real} "$@" ;;
esac
"""


@dataclass
class Machine:
    """A checkout in a folder with a space, and the commands that exist there."""

    folder: Path
    commands: Path

    def command(self, name: str, text: str) -> None:
        path = self.commands / name
        path.write_text(f"#!/bin/sh\n{text}\n")
        path.chmod(0o755)

    def python(self, *, ensurepip: int = 1, old: int = 0) -> None:
        text = PYTHON.format(ensurepip=ensurepip, old=old, real=sys.executable)
        self.command("python3", text)

    def start(self, *words: str, answer: str = "") -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [self.folder / "script" / "start", *words],
            env={"PATH": str(self.commands)},
            input=answer,
            capture_output=True,
            text=True,
            timeout=60,
        )


@pytest.fixture
def machine(tmp_path: Path) -> Machine:
    folder, commands = tmp_path / "a shop", tmp_path / "bin"
    commands.mkdir()
    shutil.copytree(ROOT / "script", folder / "script")
    shutil.copy(ROOT / "requirements.txt", folder)
    for name in PLAIN:
        (commands / name).symlink_to(shutil.which(name))
    made = Machine(folder, commands)
    made.python()
    made.command("id", "echo 1000")
    made.command("apt-get", "exit 100")
    return made


def test_check_names_what_is_missing_and_changes_nothing(machine: Machine):
    before = sorted(machine.folder.rglob("*"))

    ran = machine.start("--check")

    assert ran.returncode == 1
    assert "missing: python3-venv" in ran.stderr
    assert sorted(machine.folder.rglob("*")) == before


def test_an_old_python_is_named_before_anything_is_installed(machine: Machine):
    machine.python(old=1)

    ran = machine.start()

    assert ran.returncode == 1
    assert "Python 3.11 or newer is needed; this is Python 3.9.2" in ran.stderr


def test_without_apt_the_packages_are_named(machine: Machine):
    (machine.commands / "apt-get").unlink()

    ran = machine.start()

    assert ran.returncode == 1
    assert "python3-venv" in ran.stderr
    assert "no apt" in ran.stderr


def test_without_sudo_the_command_for_root_is_given(machine: Machine):
    ran = machine.start()

    assert ran.returncode == 1
    assert "As root run: apt-get install" in ran.stderr
    assert "python3-venv" in ran.stderr


@pytest.mark.parametrize("answer", ["n\n", "\n", ""])
def test_apt_waits_for_a_yes(machine: Machine, answer: str):
    log = machine.folder / "asked"
    machine.command("sudo", f'echo "$@" >>"{log}"')

    ran = machine.start(answer=answer)

    assert ran.returncode == 1
    assert "Go on? [y/N]" in ran.stdout
    assert "nothing was installed" in ran.stderr
    assert not log.exists()


def test_after_a_yes_a_failing_apt_is_told(machine: Machine):
    log = machine.folder / "asked"
    machine.command(
        "sudo", f'echo "$@" >>"{log}"\ncase "$*" in *update*) ;; *) exit 1 ;; esac'
    )

    ran = machine.start(answer="y\n")

    assert ran.returncode == 1
    assert "apt could not install: python3-venv" in ran.stderr
    update, install = log.read_text().splitlines()
    assert update == "apt-get update -qq"
    assert install.startswith("env DEBIAN_FRONTEND=noninteractive apt-get install")
    assert "python3-venv" in install


@pytest.mark.parametrize("port", ["", "eighty", "-1", "0", "65536", "123456789012"])
def test_a_port_that_is_none_is_refused(machine: Machine, port: str):
    ran = machine.start("--port", port)

    assert ran.returncode == 1
    assert "--port wants a number from 1 to 65535" in ran.stderr


@pytest.mark.parametrize("host", ["", "0.0.0.0", "a; b", "workshop.local"])
def test_a_host_that_is_no_address_is_refused(machine: Machine, host: str):
    ran = machine.start("--host", host)

    assert ran.returncode == 1
    assert "--host wants this machine's own address" in ran.stderr


def test_an_unknown_word_gets_the_usage(machine: Machine):
    ran = machine.start("--prot", "8001")

    assert ran.returncode == 1
    assert "usage: script/start" in ran.stderr


def test_a_taken_port_is_named_before_the_environment_is_built(machine: Machine):
    machine.python(ensurepip=0)
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]

        ran = machine.start("--port", str(port))

    assert ran.returncode == 1
    assert f"port {port} is taken" in ran.stderr
    assert not (machine.folder / ".venv").exists()


def test_an_address_of_another_machine_is_told(machine: Machine):
    machine.python(ensurepip=0)

    ran = machine.start("--host", "192.0.2.1")

    assert ran.returncode == 1
    assert "192.0.2.1 is not an address of this machine" in ran.stderr
