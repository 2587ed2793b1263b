"""`windows` and `drying`: their documents, their words, and their one sentence when the call is wrong."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest
from cli_kit import refused, run

from field.core.card import WORKS
from field.services.ask_windows import ask_windows

PLACE = ("--lat", "55.5", "--lon", "-3.2", "--height", "250")
FROM = ("--from", "2026-01-01", "--days", "400")
BOX = ("--lat", "54.46", "--on", "2024-06-21", "--box-l", "40", "--canopy-cm", "60", "--kind", "birch")
DAY = ("--tmin", "9.5", "--tmax", "19")
MIX = ("--mix", "pumice=50,bark=30,peat=20")


@pytest.fixture(autouse=True)
def _no_log_here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for setting in ("FELLSIDE_DATA", "FELLSIDE_DATABASE"):
        monkeypatch.delenv(setting, raising=False)
    monkeypatch.chdir(tmp_path)


def document(capsys: pytest.CaptureFixture[str], *words: str) -> dict:
    status, out, err = run(capsys, *words, "--json")
    assert (status, err) == (0, "")
    return json.loads(out)


def test_windows_have_their_published_shape(capsys: pytest.CaptureFixture[str]) -> None:
    got = document(capsys, "windows", "birch", *PLACE, *FROM)
    assert got["kind"] == "birch"
    assert list(got["works"]) == list(WORKS)
    for windows in got["works"].values():
        for window in windows:
            assert {"opens", "closes", "hard_close", "why_opens", "why_closes", "source"} <= set(window)
            assert date.fromisoformat(window["opens"]) <= date.fromisoformat(window["closes"])
            assert isinstance(window["hard_close"], bool)


def test_a_work_without_windows_says_why_under_never(capsys: pytest.CaptureFixture[str]) -> None:
    got = document(capsys, "windows", "scots-pine", *PLACE, *FROM)
    assert got["works"]["defoliate"] == []
    assert got["never"]["defoliate"]
    assert all(not got["works"][work] for work in got["never"])


def test_birch_is_never_cut_after_a_hard_close_in_late_summer(capsys: pytest.CaptureFixture[str]) -> None:
    got = document(capsys, "windows", "birch", "--lat", "52", "--lon", "0", "--height", "0", *FROM)
    window = got["works"]["trim"][0]
    assert (window["closes"], window["hard_close"]) == ("2026-08-01", True)
    assert "bleed" in window["why_opens"]


def test_the_south_is_turned_by_half_a_year(capsys: pytest.CaptureFixture[str]) -> None:
    got = document(capsys, "windows", "birch", "--lat", "-52", "--lon", "0", "--height", "0", *FROM)
    assert "2026-02-01" in [window["closes"] for window in got["works"]["trim"]]


def test_windows_speak_plainly(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run(capsys, "windows", "birch", *PLACE, *FROM)
    assert status == 0
    assert "trim: " in out
    assert "Hopkins' law" in out


def test_drying_has_its_published_shape_and_its_published_figures(capsys: pytest.CaptureFixture[str]) -> None:
    got = document(capsys, "drying", *DAY, *BOX, *MIX)
    assert list(got)[:5] == ["ra_mj_m2_d", "et0_mm_d", "use_l_d", "available_l", "interval_d"]
    # tests/vectors/et0.json: 54.46 N, 21 June 2024, 9.5 to 19.0 C
    assert got["ra_mj_m2_d"] == pytest.approx(41.5674, abs=0.001)
    assert got["et0_mm_d"] == pytest.approx(3.8533, abs=0.005)
    low, high = got["interval_d"]
    assert low < got["available_l"] / got["use_l_d"] < high


def test_a_state_narrows_the_range(capsys: pytest.CaptureFixture[str]) -> None:
    wide = document(capsys, "drying", *DAY, *BOX, *MIX)["interval_d"]
    low, high = document(capsys, "drying", *DAY, *BOX, *MIX, "--state", "recovering")["interval_d"]
    assert wide[0] < low < high < wide[1]


def test_the_polar_night_dries_nothing_and_says_so(capsys: pytest.CaptureFixture[str]) -> None:
    box = ("--lat", "69.65", "--on", "2024-12-21", *BOX[4:])
    got = document(capsys, "drying", "--tmin", "-9", "--tmax", "-3", *box, *MIX)
    assert (got["ra_mj_m2_d"], got["et0_mm_d"], got["use_l_d"], got["interval_d"]) == (0, 0, 0, None)
    assert run(capsys, "drying", "--tmin", "-9", "--tmax", "-3", *box, *MIX)[1].startswith("The air takes nothing")


def test_a_tree_that_sheds_its_leaves_is_told_apart_in_winter(capsys: pytest.CaptureFixture[str]) -> None:
    def codes(kind: str, lat: str, on: str) -> list[str]:
        box = ("--box-l", "40", "--canopy-cm", "60", "--lat", lat, "--on", on, "--kind", kind)
        return [one["code"] for one in document(capsys, "drying", *DAY, *box, *MIX)["cautions"]]

    assert "bare-tree" in codes("birch", "52", "2026-01-15")
    assert "bare-tree" in codes("larch", "52", "2026-01-15")
    assert "bare-tree" not in codes("birch", "52", "2026-06-15")
    assert "bare-tree" not in codes("yew", "52", "2026-01-15")
    assert "bare-tree" in codes("birch", "-52", "2026-07-15")


def test_drying_orders_nobody_to_water(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run(capsys, "drying", *DAY, *BOX, *MIX)
    assert status == 0
    assert "no order to water: weigh the box, and feel the mix" in out
    assert "freshly lifted, in shade: " in out


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("windows", "bich", *PLACE), "birch"),
        (("windows", "birch", "--lat", "91", "--lon", "0", "--height", "0"), "latitude"),
        (("windows", "birch", "--lat", "52", "--lon", "181", "--height", "0"), "longitude"),
        (("windows", "birch", "--lat", "52", "--lon", "0", "--height", "9001"), "height"),
        (("windows", "birch", "--lat", "nan", "--lon", "0", "--height", "0"), "degrees"),
        (("windows", "birch", *PLACE, "--from", "2026-02-30"), "date"),
        (("windows", "birch", *PLACE, "--from", "0800-01-01"), "year"),
        (("windows", "birch", *PLACE, "--days", "99999"), "days"),
        (("windows", "birch"), "--lat"),
        (("drying", *DAY, *BOX, "--mix", "pumise=1"), "pumice"),
        (("drying", *DAY, *BOX, "--mix", "coir=1"), "coir"),
        (("drying", *DAY, *BOX, "--mix", ""), "mix"),
        (("drying", "--tmin", "19", "--tmax", "9", *BOX, *MIX), "above"),
        (("drying", "--tmin", "-e", "--tmax", "9", *BOX, *MIX), "tmin"),
        (("drying", *DAY, *BOX[:-1], "bich", *MIX), "birch"),
        (("drying", *DAY, *BOX, *MIX, "--box-l", "-1"), "box"),
        (("drying", *DAY, *BOX, *MIX, "--lat", "-91"), "latitude"),
        (("drying", *DAY, *BOX, *MIX, "--state", "sulking"), "recovering"),
    ],
)
def test_a_wrong_call_ends_with_two_and_one_sentence(
    capsys: pytest.CaptureFixture[str], words: tuple[str, ...], says: str
) -> None:
    assert says in refused(capsys, *words)


def test_a_named_data_folder_is_opened_and_a_missing_one_is_said(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    assert run(capsys, "init", "--data", tmp_path / "log")[0] == 0
    assert document(capsys, "windows", "birch", *PLACE, *FROM, "--data", str(tmp_path / "log"))["works"]["trim"]
    assert "no data folder" in refused(capsys, "windows", "birch", *PLACE, "--data", tmp_path / "none")


def test_windows_follow_the_persons_own_card() -> None:
    file = Path(__file__).resolve().parent.parent / "field" / "core" / "cards" / "birch.json"
    card = json.loads(file.read_text(encoding="utf-8"))
    card["windows"]["trim"][0]["closes"] = "07-20"
    own = [{"id": "a", "kind": "dwarf-birch", "name": "dwarf birch", "latin": "Betula nana", "card": card}]
    got = ask_windows("dwarf-birch", 52, 0, 0, date(2026, 1, 1), 200, own)
    assert [window["closes"] for window in got["works"]["trim"]] == ["2026-07-20"]


def test_ones_own_days_stand_in_place_of_the_law(capsys: pytest.CaptureFixture[str]) -> None:
    lowland = ("--lat", "52", "--lon", "0", "--height", "0", "--from", "2027-01-01", "--days", "60")
    usual = document(capsys, "windows", "birch", *lowland)["works"]["lift"][0]
    own = document(capsys, "windows", "birch", *PLACE, "--own-days", "-4", *lowland[6:])["works"]["lift"][0]
    assert (date.fromisoformat(own["closes"]) - date.fromisoformat(usual["closes"])).days == -4
    assert "4 days by your own number, spring earlier" in own["why_closes"]
    assert "more than a season" in refused(capsys, "windows", "birch", *PLACE, "--own-days", "300")


def test_a_kind_that_is_not_known_names_near_ones_once(capsys: pytest.CaptureFixture[str]) -> None:
    assert refused(capsys, "windows", "brich", *PLACE).count("birch") == 1
