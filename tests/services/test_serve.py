"""One server a folder and a port, a clean stop, and no worker left behind when its parent is killed."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import home_server as server
import pytest

from field.core.errors import BadInput
from field.services import serve

pytestmark = pytest.mark.browser  # real processes, watched and killed

ROOT = Path(__file__).resolve().parent.parent.parent


@pytest.fixture
def running(tmp_path: Path) -> Iterator[object]:
    with server.RunningServer(tmp_path / "data") as got:
        yield got


def call(running, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, str(ROOT / "app.py"), *words],
        capture_output=True,
        text=True,
        check=False,
        env=running.environment(),
        timeout=60,
    )


def one_sentence(said: str) -> bool:
    return said.count("\n") == 1 and "Traceback" not in said


def test_where_it_is_and_how_to_pair_is_printed(running) -> None:
    assert f"Fellside is at {running.url}/" in running.said()
    assert f"{running.url}/#/pair/" in running.said()


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT])
def test_a_stop_is_clean(running, how: signal.Signals) -> None:
    running.process.send_signal(how)
    assert running.process.wait(60) == 0
    running.process = None
    server.wait_for(lambda: not server.port_is_open(running.port), "the port is still served")
    assert "Traceback" not in running.said()


def test_it_starts_again_on_the_same_port_and_data(running) -> None:
    epoch = running.hello()["epoch"]
    running.stop()
    running.start()
    assert running.hello()["epoch"] == epoch
    running.kill()
    running.start()
    assert running.hello()["epoch"] == epoch


def test_worker_does_not_outlive_a_killed_parent(running) -> None:
    running.kill_parent_only()
    server.wait_for(lambda: not server.port_is_open(running.port), "an orphan still serves", longest_s=10)
    running.start()  # neither the port nor the folder is held by anyone


def test_second_server_on_the_same_folder_is_refused(running) -> None:
    got = call(running, "--data", str(running.data), "--port", str(server.free_port()))
    assert got.returncode == 2
    assert one_sentence(got.stderr)
    assert got.stdout == ""
    assert running.hello()["app"] == "fellside"


def test_second_server_on_the_same_port_is_refused(running, tmp_path: Path) -> None:
    got = call(running, "--data", str(tmp_path / "other"), "--port", str(running.port))
    assert got.returncode == 2
    assert one_sentence(got.stderr)
    assert str(running.port) in got.stderr
    assert running.hello()["app"] == "fellside"


def test_free_port_is_found_for_none_named() -> None:
    port = serve.find_free_port("127.0.0.1", 0)
    assert 0 < port < 65536
    assert serve.find_free_port("127.0.0.1", port) == port


def test_port_that_shares_itself_is_still_in_use() -> None:
    with socket.socket() as other:
        if hasattr(socket, "SO_REUSEPORT"):  # as the server itself listens
            other.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEPORT, 1)
        other.bind(("127.0.0.1", 0))
        other.listen()
        with pytest.raises(BadInput, match="in use") as refused:
            serve.find_free_port("127.0.0.1", other.getsockname()[1])
    assert refused.value.code == "no-port"


@pytest.mark.parametrize("host", ["192.0.2.1", "no such host", "300.1.1.1"])  # RFC 5737: 192.0.2.0/24 is nobody's
def test_host_that_is_not_here_is_refused(host: str) -> None:
    with pytest.raises(BadInput, match="address"):
        serve.find_free_port(host, 0)


def test_process_ends_when_its_parent_is_another() -> None:
    # The parent it is told to watch is not its parent: as after the real one was killed.
    code = (
        "import threading\n"
        "from field.services.serve import end_with_parent\n"
        f"end_with_parent({os.getpid()} + 1)\n"
        "threading.Event().wait()\n"
    )
    got = subprocess.run([sys.executable, "-c", code], cwd=ROOT, timeout=60, check=False)
    assert got.returncode == 1
