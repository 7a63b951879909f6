"""IEC 60062:2016 with amendment 1:2019, marking codes for resistors and capacitors.

The letter takes the place of the decimal point. Resistance letters: L 10⁻³, R 1, K 10³, M 10⁶, G 10⁹.
Capacitance letters p, n, µ (u), m, F are from memory. An independent library, `rkm-codes`, reads the same
codes. Tolerance: exact.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rkm_codes import IEC60062_MAPS, from_rkm, set_prefs

from sublatch import units
from sublatch.errors import UnitError

RESISTORS = {
    "R47": 0.47,
    "0R1": 0.1,
    "2R2": 2.2,
    "4R7": 4.7,
    "220R": 220.0,
    "470R": 470.0,
    "1k0": 1e3,
    "4k7": 4700.0,
    "4K7": 4700.0,
    "47K": 47e3,
    "47K3": 47.3e3,
    "M33": 330e3,
    "470K": 470e3,
    "4M7": 4.7e6,
    "1G": 1e9,
    "4L7": 0.0047,
    "470L": 0.47,
}
CAPACITORS = {
    "p33": 0.33e-12,
    "6p8": 6.8e-12,
    "n47": 470e-12,
    "4n7": 4.7e-9,
    "47n": 47e-9,
    "100n": 100e-9,
    "2u2": 2.2e-6,
    "2µ2": 2.2e-6,
    "2m2": 2.2e-3,
    "1F0": 1.0,
}


@pytest.fixture(autouse=True, scope="module")
def _library_follows_the_standard():
    set_prefs(rkm_maps=IEC60062_MAPS)  # otherwise it takes L for an inductance
    yield
    set_prefs(rkm_maps=None)


@pytest.mark.parametrize("code", RESISTORS)
def test_resistor_codes(code):
    assert units.ohms(code) == RESISTORS[code]
    assert float(from_rkm(code)) == pytest.approx(RESISTORS[code], rel=1e-12)


@pytest.mark.parametrize("code", CAPACITORS)
def test_capacitor_codes(code):
    assert units.farads(code) == CAPACITORS[code]
    assert float(from_rkm(code)) == pytest.approx(CAPACITORS[code], rel=1e-12)


@given(st.integers(0, 999), st.sampled_from("RkKMG"), st.integers(0, 99))
def test_any_resistor_code_reads_as_the_library_reads_it(whole, letter, part):
    code = f"{whole}{letter}{part}"
    if float(from_rkm(code)) > 0.0:
        assert units.ohms(code) == pytest.approx(float(from_rkm(code)), rel=1e-12)
    else:
        with pytest.raises(UnitError, match="above zero"):
            units.ohms(code)


@given(st.floats(1e-3, 9.99e11))
def test_written_resistances_read_the_same_in_the_library(value):
    code = units.format_ohms(value)
    assert float(from_rkm(code)) == pytest.approx(units.ohms(code), rel=1e-12)
    assert float(from_rkm(code)) == pytest.approx(value, rel=1e-3)


@given(st.floats(1e-14, 10.0))
def test_written_capacitances_read_the_same_in_the_library(value):
    code = units.format_farads(value)
    assert float(from_rkm(code)) == pytest.approx(units.farads(code), rel=1e-12)
    assert float(from_rkm(code)) == pytest.approx(value, rel=1e-3)


@pytest.mark.parametrize(("code", "value_code"), [("4K7F", "4K7"), ("4K7K", "4K7"), ("R47J", "R47"), ("470KM", "470K")])
def test_tolerance_letters_are_kept_out_of_the_value(code, value_code):
    # F ±1 % and K ±10 % by the standard, J ±5 % and M ±20 % from memory
    with pytest.raises(UnitError, match=f"tolerance letter.*leaving '{value_code}'"):
        units.ohms(code)
