"""`hidewright readings` and the kinds of file it takes: what is found, averaged, compared and written."""

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from hidewright.cli.readings import command
from hidewright.colour.light.cie import WAVELENGTHS, delta_e00, lab
from hidewright.colour.reading.formats import format_of, read_any, resampled, typed_colour, write_csv
from hidewright.refusals import Refusal, Refusals

VALUES = np.linspace(0.2, 0.5, 31)
HEAD = "name," + ",".join(f"{nm:.0f}" for nm in WAVELENGTHS)


def wide(rows: dict[str, np.ndarray], extra: str = "") -> str:
    return (
        "\n".join(
            [HEAD, *(f"{name}," + ",".join(f"{v:.6f}" for v in values) for name, values in rows.items())]
        )
        + extra
    )


def run(*words: str) -> Result:
    return CliRunner().invoke(command, words, catch_exceptions=False)


def told(*words: str) -> dict:  # type: ignore[type-arg]
    done = run(*words, "--json")
    return dict(json.loads(done.stdout))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "a.csv").write_text(wide({"Seat": VALUES, "Back": VALUES * 0.97}), encoding="utf-8")
    by_20 = "name,wavelength,reflectance\n" + "\n".join(
        f"Seat,{nm},{100 * v:.4f}"
        for nm, v in zip(range(380, 741, 20), np.linspace(0.18, 0.54, 19), strict=True)
    )
    (tmp_path / "long.csv").write_text(by_20, encoding="utf-8")
    fields = " ".join(f"NM_{nm:.0f}" for nm in WAVELENGTHS)
    row = " ".join(f"{v:.5f}" for v in VALUES)
    (tmp_path / "c.txt").write_text(
        f'CGATS.17\nINSTRUMENTATION "sphere"\nBEGIN_DATA_FORMAT\nSAMPLE_NAME {fields}\nEND_DATA_FORMAT\n'
        f'BEGIN_DATA\n"Arm" {row}\nEND_DATA\n',
        encoding="utf-8",
    )
    return tmp_path


def test_every_kind_of_file_is_told_by_itself(folder: Path) -> None:
    found = told(
        str(folder / "a.csv"), str(folder / "long.csv"), str(folder / "c.txt"), "--lab", "Card: 50 0 0"
    )
    assert [f["format"] for f in found["files"]] == ["CSV", "CSV", "CGATS.17"]
    assert [f["readings"] for f in found["files"]] == [2, 1, 1]
    assert "taken as they are" in found["files"][0]["resampled"][0]
    assert (
        "19 bands: brought to every 10 nm from 400 to 700 by linear interpolation"
        in found["files"][1]["resampled"][0]
    )
    names = [r["name"] for r in found["found"]]
    assert names == ["a.csv: Seat", "Back", "long.csv: Seat", "Arm", "Card"]
    assert found["found"][3]["conditions"] == {"instrument": "sphere"}
    assert found["found"][4]["spectrum"] is False
    assert found["found"][4]["lab"]["D65"] == [50, 0, 0]
    here = lab(VALUES)
    assert found["found"][0]["lab"]["D65"] == pytest.approx(list(here), abs=0.01)
    # both files hold one straight line, so that the wide, the long and the CGATS form agree
    assert found["found"][2]["lab"]["D65"] == pytest.approx(list(here), abs=0.01)


def test_readings_of_one_name_are_averaged_and_their_scatter_told(tmp_path: Path) -> None:
    path = tmp_path / "three.csv"
    shifted = {"a": VALUES - 0.01, "b": VALUES, "c": VALUES + 0.01}
    path.write_text(wide(shifted).replace("\nb,", "\na,").replace("\nc,", "\na,"), encoding="utf-8")
    found = told(str(path), "--average", "--out", str(tmp_path / "out.csv"))
    (one,) = found["found"]
    assert one["lab"]["D65"] == pytest.approx(list(lab(VALUES)), abs=0.01)
    assert found["averaged"]["a"]["readings"] == 3
    assert found["averaged"]["a"]["band_sd"] == pytest.approx(0.01)
    assert found["averaged"]["a"]["farthest"] == pytest.approx(
        float(delta_e00(lab(VALUES - 0.01), lab(VALUES))), rel=0.01
    )
    single = told(str(path))["found"][1]["spread"]
    assert one["spread"] == pytest.approx(single / np.sqrt(3), rel=0.01)
    back = read_any((tmp_path / "out.csv").read_text(encoding="utf-8"))
    np.testing.assert_allclose(back[0].reflectance, VALUES, atol=1e-6)
    assert told(str(path), "--as", "Seat")["found"][0]["name"] == "Seat"


def test_two_are_compared_under_each_light_with_the_grey_scale(folder: Path) -> None:
    path = str(folder / "a.csv")
    near = run(path, "--compare", "Seat", "Back")
    assert near.exit_code == 0
    assert "grey scale" in near.stdout
    pair = told(path, "--compare", "Seat", "Back", "--light", "A", "--light", "D65")["compared"]
    expected = {v: float(delta_e00(lab(VALUES, v), lab(VALUES * 0.97, v))) for v in ("A", "D65")}
    assert pair["delta_e00"] == pytest.approx(expected, abs=0.001)
    assert pair["grey_scale"] in ("4-5", "4")
    assert pair["second_is"]["dL"] < 0
    far = run(path, "--lab", "Blue: 40 5 -30", "--compare", "Seat", "Blue")
    assert far.exit_code == 1
    assert run(path, "--compare", "Seat", "Back", "--tolerance", "0.1").exit_code == 1


def test_unlike_things_are_warned_of(tmp_path: Path) -> None:
    path = tmp_path / "states.csv"
    rows = wide({"Wet": VALUES, "Dry": VALUES}).splitlines()
    rows = [rows[0] + ",state,specular", rows[1] + ",wet,in", rows[2] + ",Dry,ex"]
    path.write_text("\n".join(rows), encoding="utf-8")
    warnings = told(str(path), "--compare", "Wet", "Dry")["compared"]["unlike"]
    assert len(warnings) == 2
    assert "wet" in warnings[0]
    path.write_text("\n".join([rows[0], rows[1].replace("wet", "damp")]), encoding="utf-8")
    with pytest.raises(Refusals, match="neither wet nor dry"):
        run(str(path))


def test_colours_without_a_spectrum_come_in_and_go_out(tmp_path: Path) -> None:
    text = "name;L*;a*;b*;observer;sd\nSeat;52,1;4,3;18,9;2;0,5\n"
    (reading,) = read_any(text)
    assert reading.colour is not None
    np.testing.assert_allclose(reading.colour.lab, [52.1, 4.3, 18.9])
    assert reading.colour.observer == "2"
    np.testing.assert_allclose(np.diag(reading.colour.covariance), 0.25)
    back = read_any(write_csv([reading]))[0]
    assert back.colour is not None
    np.testing.assert_allclose(back.colour.lab, reading.colour.lab)
    (lch,) = read_any("name,L,C,h\nSeat,50,10,90\n")
    assert lch.colour is not None
    np.testing.assert_allclose(lch.colour.lab, [50, 0, 10], atol=1e-9)
    mixed = [reading, *read_any(wide({"A": VALUES}))]
    with pytest.raises(Refusal, match="one file"):
        write_csv(mixed)


def test_how_bands_are_resampled_is_told_in_words() -> None:
    fine = [float(nm) for nm in range(360, 781, 5)]
    assert resampled(fine).endswith("every 10 nm from 400 to 700 taken as it is")
    assert resampled(()) == ""
    assert format_of("\ufeff  <?xml version='1.0'?><a/>") == "CxF3"


@pytest.mark.parametrize(
    ("words", "match"),
    [
        ([], "no reading"),
        (["--lab", "Seat: 52 4"], "three numbers"),
        (["--lab", "Seat: 152 4 3"], "no colour"),
        (["--lch", "Seat: 50 -4 3"], "no colour"),
        (["--lab", "a: 50 0 0", "--compare", "a", "b"], "called b"),
        (["--lab", "a: 50 0 0", "--lab", "a: 51 0 0", "--compare", "a", "a"], "2 readings"),
        (["--lab", "a: 50 0 0", "--light", "candle"], "candle"),
        (["--lab", "a: 50 0 0", "--only", "b"], "called b"),
        (["--lab", "a: 50 0 0", "--lab", "a: 51 0 0", "--average"], "Only spectra"),
    ],
)
def test_refusals_say_what_to_do(words: list[str], match: str) -> None:
    with pytest.raises(Refusal, match=match):
        run(*words)


def test_a_typed_colour_needs_a_known_light() -> None:
    with pytest.raises(Refusal, match="D50"):
        typed_colour("x", [50, 0, 0], light="D50")
