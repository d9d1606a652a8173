"""Readings from CGATS.17, CxF3, photos and CSV: what is read, and what is refused with its place."""

from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from hidewright.colour.light.cie import delta_e00, lab, lab_from_xyz, white, xyz_from_lab
from hidewright.colour.reading.cgats import read_cgats
from hidewright.colour.reading.cxf import read_cxf
from hidewright.colour.reading.photo import KnownPatch, Patch, PhotoColour, read_photo
from hidewright.colour.reading.readings import read_csv
from hidewright.refusals import Refusal, Refusals

NM = range(400, 701, 10)
VALUES = np.linspace(0.1, 0.4, 31)


def cgats(values: np.ndarray, *, field: str = "SPECTRAL_NM{}", nm: range = NM) -> str:
    fields = " ".join(field.format(w) for w in nm)
    row = " ".join(f"{v:.5f}" for v in values)
    return (
        f'CGATS.17\nORIGINATOR "bench"\nINSTRUMENTATION "sphere"\nNUMBER_OF_FIELDS {len(nm) + 1}\nBEGIN_DATA_FORMAT\n'
        f'SAMPLE_NAME {fields}\nEND_DATA_FORMAT\nNUMBER_OF_SETS 1\nBEGIN_DATA\n"Seat 3" {row}\nEND_DATA\n'
    )


@pytest.mark.parametrize("field", ["SPECTRAL_NM{}", "NM_{}", "R_{}", "SPECTRAL_{}", "NM{}"])
@pytest.mark.parametrize("scale", [1.0, 100.0])
def test_cgats_spectra(field: str, scale: float) -> None:
    (reading,) = read_cgats(cgats(VALUES * scale, field=field))
    assert reading.name == "Seat 3"
    assert reading.conditions.instrument == "sphere"
    np.testing.assert_allclose(reading.reflectance, VALUES, atol=1e-5)


def test_cgats_by_20_nm_and_wider() -> None:
    nm = range(380, 741, 20)
    values = np.interp(list(nm), list(NM), VALUES)
    (reading,) = read_cgats(cgats(values, nm=nm))
    np.testing.assert_allclose(reading.reflectance, VALUES, atol=1e-5)


def test_cgats_lab() -> None:
    text = (
        "BEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n1 50 5 10\nEND_DATA\n"
    )
    (reading,) = read_cgats(text)
    assert not reading.is_spectrum
    np.testing.assert_allclose(lab(reading.reflectance), [50, 5, 10], atol=0.02)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("hello", "no data"),
        ("BEGIN_DATA_FORMAT\nSAMPLE_ID NM_400\n", "END_DATA_FORMAT is missing"),
        (cgats(VALUES).replace("0.10000", "bright"), "bright"),
        (cgats(VALUES).replace(" 0.10000", ""), "31 values for 32 fields"),
        (cgats(VALUES[:5], nm=range(400, 450, 10)), "400 to 700"),
    ],
)
def test_cgats_refusals_name_the_line(text: str, what: str) -> None:
    with pytest.raises(Refusal, match=what):
        read_cgats(text)


CXF = """<?xml version="1.0" encoding="UTF-8"?>
<cc:CxF xmlns:cc="http://colorexchangeformat.com/CxF3-core"><cc:Resources><cc:ObjectCollection>
<cc:Object ObjectType="Standard" Name="Seat 3" Id="c1"><cc:ColorValues>
<cc:ReflectanceSpectrum ColorSpecification="s1" StartWL="400">{}</cc:ReflectanceSpectrum>
</cc:ColorValues></cc:Object></cc:ObjectCollection>
<cc:ColorSpecificationCollection><cc:ColorSpecification Id="s1"><cc:MeasurementSpec>
<cc:WavelengthRange StartWL="400" Increment="10"/></cc:MeasurementSpec></cc:ColorSpecification>
</cc:ColorSpecificationCollection></cc:Resources></cc:CxF>"""


def test_cxf_spectrum() -> None:
    (reading,) = read_cxf(CXF.format(" ".join(f"{v:.5f}" for v in VALUES)))
    assert reading.name == "Seat 3"
    np.testing.assert_allclose(reading.reflectance, VALUES, atol=1e-5)


@pytest.mark.parametrize("text", ["no xml", CXF.format("0.1 0.2"), CXF.format("0.1 much"), "<a/>"])
def test_cxf_refusals(text: str) -> None:
    with pytest.raises(Refusal):
        read_cxf(text)


def test_cxf_does_not_expand_entities() -> None:
    bomb = '<!DOCTYPE a [<!ENTITY b "bbbb"><!ENTITY c "&b;&b;&b;">]><a>&c;</a>'
    with pytest.raises(Refusal, match="XML"):
        read_cxf(bomb)


def test_csv_refuses_row_by_row() -> None:
    head = "name," + ",".join(str(w) for w in NM)
    good = "A," + ",".join("0.3" for _ in NM)
    bad = "B," + ",".join("0.3" if w != 450 else "x" for w in NM)
    with pytest.raises(Refusals) as refused:
        read_csv("\n".join([head, good, bad, bad]))
    assert [item.where for item in refused.value.items] == ["line 3, column 450", "line 4, column 450"]


CARD = np.array(
    [
        [95, 0, 0],
        [75, 0, 0],
        [50, 0, 0],
        [30, 0, 0],
        [50, 45, 25],
        [52, -35, 25],
        [35, 10, -40],
        [75, 5, 65],
        [60, 30, 40],
        [65, -5, -25],
    ],
    dtype=float,
)
LEATHER = np.array([55.0, 9.0, 16.0])


def photo(
    leather: np.ndarray = LEATHER,
    *,
    gain: tuple[float, float, float] = (0.75, 0.7, 0.62),
    slope: float = 0.0,
    noise: float = 0.004,
) -> tuple[bytes, Patch, list[KnownPatch]]:
    """A picture of ten known patches and the leather, by an invented camera with a cast, as a JPEG."""
    colours = np.vstack([CARD, leather])
    to_rgb = np.linalg.inv(
        np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]) * 100
    )
    light = xyz_from_lab(colours, white("D65", "2")) @ to_rgb.T
    camera = light @ np.array([[0.93, 0.05, 0.02], [0.03, 0.94, 0.03], [0.01, 0.06, 0.93]]).T * np.array(gain)
    wide = 60
    picture = np.repeat(camera, wide, axis=0)[None].repeat(80, axis=0)
    picture = picture * (1 + slope * np.linspace(-1, 1, 80))[:, None, None]
    coded = np.where(
        picture <= 0.0031308, 12.92 * picture, 1.055 * np.maximum(picture, 0) ** (1 / 2.4) - 0.055
    )
    coded = coded + np.random.default_rng(1).normal(0, noise, coded.shape)
    out = BytesIO()
    Image.fromarray((np.clip(coded, 0, 1) * 255).round().astype(np.uint8)).save(out, "JPEG", quality=95)
    n = len(colours)
    patches = [Patch((i + 0.2) / n, 0.1, (i + 0.8) / n, 0.9) for i in range(n)]
    return out.getvalue(), patches[-1], [KnownPatch(p, c) for p, c in zip(patches, CARD, strict=False)]


def found_lab(result: PhotoColour) -> np.ndarray:
    assert result.reading.colour is not None
    return result.reading.colour.lab


def test_photo_with_known_patches() -> None:
    data, sample, known = photo()
    result = read_photo(data, sample, known)
    off = float(delta_e00(found_lab(result), LEATHER))
    assert off < 2.0
    assert result.residual < 2.0
    assert result.reading.colour is not None
    assert np.sqrt(result.reading.colour.covariance[0, 0]) >= 2.5


def test_photo_with_a_grey_card_only_has_a_wider_spread() -> None:
    data, sample, known = photo()
    both = read_photo(data, sample, known), read_photo(data, sample, known[2:3])
    spreads = [float(r.reading.colour.covariance[0, 0]) for r in both if r.reading.colour]
    assert spreads[0] < spreads[1]
    assert float(delta_e00(found_lab(both[1]), LEATHER)) < 5.0


def test_photos_that_cannot_be_trusted_are_refused_with_the_reason() -> None:
    data, sample, known = photo(gain=(1.6, 1.6, 1.6))
    with pytest.raises(Refusal, match="clipped"):
        read_photo(data, sample, known)
    data, sample, known = photo(slope=0.3)
    with pytest.raises(Refusal, match="unevenly lit"):
        read_photo(data, sample, known)
    data, sample, known = photo()
    with pytest.raises(Refusal, match="grey card"):
        read_photo(data, sample, [])
    with pytest.raises(Refusal, match="no picture"):
        read_photo(b"not a picture", sample, known)
    mixed_up = [KnownPatch(k.patch, o.lab) for k, o in zip(known, known[::-1], strict=True)]
    with pytest.raises(Refusal):
        read_photo(data, sample, mixed_up)
    with pytest.raises(Refusal):
        Patch(0.5, 0.1, 0.4, 0.2)


def test_lab_of_white_is_white() -> None:
    np.testing.assert_allclose(lab_from_xyz(white("D65", "2"), white("D65", "2")), [100, 0, 0], atol=1e-12)
