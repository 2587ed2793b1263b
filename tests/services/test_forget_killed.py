"""Home is killed after a person was forgotten and before the files went: whoever opens the log next goes on with it."""

from __future__ import annotations

import hashlib
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from builders import PHONE, a_change, an_id
from forget_kit import NOW, sync

from field.services import keep_blob
from field.services.backup import back_up
from field.services.check import check
from field.store import db, forgotten, photos
from field.verbs.serving_app import make_serving_app

pytestmark = pytest.mark.browser  # real processes, watched and killed

HOLDER, LEAVE, PAPER = (an_id() for _ in range(3))
NAME = "Ewan Moffat"
SCAN = b"%PDF-1.4 signed by Ewan Moffat"
SHA = hashlib.sha256(SCAN).hexdigest()
# Ends as a power cut does, at the call that is named: before the first file goes, before the scraps go, at the end.
KILLED = """
import datetime as dt, os, sys
from field.services import forget, keep_blob
from field.store import db, forgotten
module = {"drop": keep_blob, "_sweep": forget, "drop_to_clear": forgotten}[sys.argv[3]]
setattr(module, sys.argv[3], lambda *words: os._exit(9))
with db.alone(None, sys.argv[1]):
    forget.forget(sys.argv[2], [], [], dt.datetime(2027, 3, 1, 9, tzinfo=dt.UTC))
"""


@pytest.fixture(params=["drop", "_sweep", "drop_to_clear"])
def killed(request: pytest.FixtureRequest, data_dir: Path) -> Path:
    with db.alone(None, data_dir):
        keep_blob.keep_bytes(SCAN)
        leave = a_change({"landholder": HOLDER, "signed_by": NAME}, type="leave", rec=LEAVE, seq=2)
        paper = a_change({"leave": LEAVE, "sha256": SHA, "note": NAME}, type="paper", rec=PAPER, seq=3)
        sync(PHONE, a_change({"name": NAME}, type="landholder", rec=HOLDER, seq=1), leave, paper)
        (db.photos_dir() / "packs" / "old.json").write_text(NAME, encoding="utf-8")
    done = subprocess.run([sys.executable, "-c", KILLED, data_dir, HOLDER, request.param], check=False)
    assert done.returncode == 9
    return data_dir


def traces(folder: Path) -> list[str]:
    kept = [path for path in folder.rglob("*") if path.is_file()]
    return [path.name for path in kept if NAME.encode() in path.read_bytes()]


def test_it_is_gone_for_every_phone_and_the_next_start_removes_the_rest(killed: Path) -> None:
    with db.alone(None, killed):
        assert NAME not in str(sync(PHONE)["ops"])
        assert forgotten.find_to_clear(db.db.session()) is not None
    app = make_serving_app(killed, "", None, "")
    with app.app_context():
        assert forgotten.find_to_clear(db.db.session()) is None
        assert not photos.blob_path(killed, SHA).exists()
        assert check()["ok"] is True
    db.close(app)
    assert traces(killed) == []


def test_a_backup_made_before_any_start_holds_nothing_of_it(killed: Path, tmp_path: Path) -> None:
    file = tmp_path / "after.zip"
    with db.alone(None, killed):
        assert back_up(file, NOW)["photos"] == 0
    with zipfile.ZipFile(file) as backup:
        assert [name for name in backup.namelist() if NAME.encode() in backup.read(name)] == []
    assert traces(killed) == []
