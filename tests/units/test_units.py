"""Values as the trade writes them: what is read, what is refused and why, and that writing reads back."""

import contextlib
import math

import numpy as np
import pytest
from eseries import ESeries
from eseries import series as eseries_members
from hypothesis import given
from hypothesis import strategies as st

from sublatch import units
from sublatch.errors import UnitError

E96_IN_ALL_DECADES = [
    float(f"{member}e{decade}") for member in eseries_members(ESeries.E96) for decade in range(-5, 10)
]

PAIRS = {  # writer, reader, limits of what the writer must manage
    "ohms": (units.format_ohms, units.ohms, 1e-3, 1e12),
    "farads": (units.format_farads, units.farads, 1e-14, 10.0),
    "hertz": (units.format_hertz, units.hertz, 5e-324, 1e7),
    "volts": (units.format_volts, units.volts, -1e3, 1e3),
    "seconds": (units.format_seconds, units.seconds, 0.0, 1e3),
    "decibels": (units.format_decibels, units.decibels, -400.0, 400.0),
}
READERS = [*(reader for _, reader, _, _ in PAIRS.values()), units.fraction]


@pytest.mark.parametrize(
    ("read", "text", "value"),
    [
        (units.ohms, "4.7k", 4700.0),
        (units.ohms, "4700", 4700.0),
        (units.ohms, "4.7 kΩ", 4700.0),
        (units.ohms, "4.7 k\N{OHM SIGN}", 4700.0),
        (units.ohms, "4.7kohm", 4700.0),
        (units.ohms, "4.7k ohms", 4700.0),
        (units.ohms, "4k7 Ω", 4700.0),
        (units.ohms, "47r", 47.0),
        (units.ohms, " 1M ", 1e6),
        (units.ohms, "1.5MΩ", 1.5e6),
        (units.ohms, "1mΩ", 1e-3),
        (units.ohms, "1T", 1e12),
        (units.ohms, ".5k", 500.0),
        (units.ohms, 4700, 4700.0),
        (units.ohms, np.float32(0.5), 0.5),
        (units.ohms, np.int64(5), 5.0),
        (units.farads, "47nF", 47e-9),
        (units.farads, "4n7F", 4.7e-9),
        (units.farads, "100 nF", 100e-9),
        (units.farads, "2µ2", 2.2e-6),  # micro sign
        (units.farads, "2μ2", 2.2e-6),  # Greek mu
        (units.farads, "2.2 µF", 2.2e-6),
        (units.farads, "0.01p", 1e-14),
        (units.farads, "1m", 1e-3),
        (units.farads, "1e-9", 1e-9),
        (units.farads, "10F", 10.0),
        (units.volts, "9V", 9.0),
        (units.volts, "9", 9.0),
        (units.volts, "500mV", 0.5),
        (units.volts, "1V5", 1.5),
        (units.volts, "-1V5", -1.5),
        (units.volts, "−4.5 V", -4.5),
        (units.volts, "1kV", 1000.0),
        (units.hertz, "300Hz", 300.0),
        (units.hertz, "3kHz", 3000.0),
        (units.hertz, "3 kHz", 3000.0),
        (units.hertz, "3k", 3000.0),
        (units.hertz, "3k3", 3300.0),
        (units.hertz, "10MHz", 1e7),
        (units.seconds, "20us", 20e-6),
        (units.seconds, "20 µs", 20e-6),
        (units.seconds, "5ms", 5e-3),
        (units.seconds, "0", 0.0),
        (units.seconds, "1000s", 1000.0),
        (units.decibels, "-60dB", -60.0),
        (units.decibels, "-60 dB", -60.0),
        (units.decibels, "+6 dB", 6.0),
        (units.decibels, -60, -60.0),
        (units.fraction, "60%", 0.6),
        (units.fraction, "60 %", 0.6),
        (units.fraction, "0.6", 0.6),
        (units.fraction, 0.6, 0.6),
        (units.fraction, "100%", 1.0),
    ],
)
def test_reads_exactly(read, text, value):
    assert read(text) == value
    assert type(read(text)) is float


def test_milli_and_mega_differ_and_both_kilos_agree():
    assert units.ohms("1MΩ") == 1e9 * units.ohms("1mΩ")
    assert units.hertz("3KHz") == units.hertz("3kHz")


@pytest.mark.parametrize("read", READERS)
@pytest.mark.parametrize(
    "text",
    [
        *("", " ", "k", "R", "Ω", "%", ".", "-", "4.7.1", "4 7", "4_7", "four", "4k7k", "4kk", "kk4", "--4"),
        *("١", "nan", "inf", "-inf", "1e999", "0x10", "4k 7", "1E3", "9" * 400),
    ],
)
def test_refuses_what_is_no_value(read, text):
    with pytest.raises(UnitError, match="got "):
        read(text)


@pytest.mark.parametrize("read", READERS)
@pytest.mark.parametrize("value", [True, False, None, [1.0], 1j, b"4k7", math.nan, math.inf, -math.inf, 10**400])
def test_refuses_other_types_and_what_is_not_finite(read, value):
    with pytest.raises(UnitError, match="got "):
        read(value)


@pytest.mark.parametrize(
    ("read", "text", "words"),
    [
        (units.farads, "47k", "a capacitor is written like 47n.*'47k'; that reads as a resistance"),
        (units.farads, "47", r"'47' \(47 F\); a bare number is in farads"),
        (units.farads, 47.0, r"got 47.0 F; a bare number is in farads"),
        (units.farads, "47N", "did you mean '47n'"),
        (units.farads, "47UF", "did you mean '47uF'"),
        (units.farads, "47nK", "the last letter is a tolerance letter and is left out here, leaving '47n'"),
        (units.ohms, "4K7K", "the last letter is a tolerance letter and is left out here, leaving '4K7'"),
        (units.ohms, "4,7k", "use a point"),
        (units.ohms, "1m", r"did you mean '1M'\? \(m is milli, M is mega\)"),
        (units.ohms, "4E7", "4R7 or 4e7"),
        (units.ohms, "47n", "reads as a capacitance"),
        (units.ohms, "3kHz", "reads as a frequency"),
        (units.ohms, "9V", "reads as a voltage"),
        (units.ohms, True, r"True \(bool\)"),
        (units.volts, "5ms", "reads as a time"),
        (units.hertz, "-60dB", "reads as a level"),
        (units.hertz, "3mHz", "did you mean '3MHz'"),
        (units.seconds, "60%", "reads as a fraction"),
        (units.seconds, "5MS", "did you mean '5ms'"),
        (units.fraction, 60, "from 0 to 1 .*got 60; a percentage needs its % sign"),
    ],
)
def test_refusals_say_what_was_probably_meant(read, text, words):
    with pytest.raises(UnitError, match=words):
        read(text)


@pytest.mark.parametrize(
    ("read", "inside", "outside"),
    [
        (units.ohms, ["1L", "1T"], ["0", "-4k7", "0.99L", "1.01T"]),
        (units.farads, ["0.01p", "10"], ["0", "-47n", "0.0099p", "10.1"]),
        (units.volts, ["1kV", "-1kV"], ["1001", "-1.001kV"]),
        (units.hertz, ["1e-300", "10M"], ["0", "-1", "10.1MHz", "1e-400"]),
        (units.seconds, ["0", "1000"], ["-1ns", "1000.1"]),
        (units.decibels, ["400", "-400dB"], ["400.1", "-401dB"]),
        (units.fraction, ["0", "100%"], ["-0.1%", "100.1%"]),
    ],
)
def test_limits_hold_at_both_ends(read, inside, outside):
    for text in inside:
        assert math.isfinite(read(text))
    for text in outside:
        with pytest.raises(UnitError, match="must be"):
            read(text)


@pytest.mark.parametrize(
    ("read", "text"), [(units.volts, "1V5V"), (units.farads, "1F5F"), (units.hertz, "1e3kHz"), (units.seconds, "1e3ms")]
)
def test_unit_or_power_given_twice_is_refused(read, text):
    with pytest.raises(UnitError, match="is written like"):
        read(text)


def test_a_very_long_text_is_refused_briefly():
    with pytest.raises(UnitError) as caught:
        units.ohms("4k7" * 100_000)
    assert len(str(caught.value)) < 120


def test_minus_nothing_is_nothing():
    assert math.copysign(1.0, units.volts("-0")) == 1.0


@pytest.mark.parametrize(
    ("write", "value", "text"),
    [
        (units.format_ohms, 4700.0, "4k7"),
        (units.format_ohms, 470, "470R"),
        (units.format_ohms, 4.7, "4R7"),
        (units.format_ohms, 0.47, "R47"),
        (units.format_ohms, 0.047, "R047"),
        (units.format_ohms, 330e3, "330k"),
        (units.format_ohms, 47300.0, "47k3"),
        (units.format_ohms, 1e6, "1M"),
        (units.format_ohms, 999.96, "1k"),
        (units.format_ohms, 1234.56, "1k235"),
        (units.format_farads, 47e-9, "47n"),
        (units.format_farads, 4.7e-9, "4n7"),
        (units.format_farads, 2.2e-6, "2u2"),
        (units.format_farads, 470e-12, "470p"),
        (units.format_farads, 0.33e-12, "p33"),
        (units.format_farads, 1.5, "1F5"),
        (units.format_hertz, 300.0, "300 Hz"),
        (units.format_hertz, 3300.0, "3.3 kHz"),
        (units.format_volts, 9.0, "9 V"),
        (units.format_volts, -0.5, "-500 mV"),
        (units.format_volts, 0.0, "0 V"),
        (units.format_volts, -0.0, "0 V"),
        (units.format_volts, 1e-12, "0.001 nV"),
        (units.format_volts, -1.5e-300, "-1.5e-300 V"),
        (units.format_seconds, 20e-6, "20 µs"),
        (units.format_decibels, -60.0, "-60 dB"),
        (units.format_decibels, -12.3045, "-12.3 dB"),
    ],
)
def test_writes_the_way_the_trade_does(write, value, text):
    assert write(value) == text


@pytest.mark.parametrize(("write", "read"), [(w, r) for w, r, _, _ in list(PAIRS.values())[:2]])
def test_e96_values_survive_writing_in_every_decade(write, read):
    low, high = (1e-3, 1e12) if read is units.ohms else (1e-14, 10.0)
    values = [value * 1e-9 if read is units.farads else value for value in E96_IN_ALL_DECADES]
    values = [value for value in values if low <= value <= high]
    assert len(values) > 900
    for value in values:
        text = write(value)
        assert len(text) <= (5 if read is units.farads or value >= 0.01 else 6)  # R00102
        assert read(text) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize("name", PAIRS)
@given(data=st.data())
def test_whatever_is_written_reads_back_to_a_thousandth(name, data):
    write, read, low, high = PAIRS[name]
    value = data.draw(st.floats(low, high))
    text = write(value)
    assert read(text) == pytest.approx(value, rel=1e-3)
    assert write(read(text)) == text


@given(st.floats(1e-3, 1e12))
def test_ohms_are_short_whatever_their_size(value):
    assert len(units.format_ohms(value)) <= 8


@given(st.floats(1e-14, 10.0))
def test_a_bare_number_is_the_base_unit_in_text_too(value):
    assert units.farads(str(value)) == units.farads(value) == value


@pytest.mark.parametrize("name", PAIRS)
@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 1e13])
def test_nothing_is_written_that_could_not_be_read(name, value):
    with pytest.raises(UnitError, match="must be"):
        PAIRS[name][0](value)


@given(st.text(max_size=12) | st.text("0123456789.eE+-kKmMRunpFVHzsdB%Ω ", max_size=8))
def test_any_text_is_a_finite_value_or_a_unit_error(text):
    for read in READERS:
        with contextlib.suppress(UnitError):
            assert math.isfinite(read(text))


def test_decibels_and_ratios():
    assert units.db_to_ratio(0.0) == 1.0
    assert units.db_to_ratio(20.0) == 10.0
    assert units.db_to_ratio(-math.inf) == 0.0
    assert units.ratio_to_db(0.5) == pytest.approx(-6.020599913279624, abs=1e-13)
    assert units.ratio_to_db(0.0) == -math.inf
    assert type(units.ratio_to_db(0.5)) is float
    assert type(units.db_to_ratio(-6)) is float


def test_decibels_and_ratios_of_arrays():
    level_db = np.array([[-40.0, 0.0], [6.0, -300.0]])
    assert units.db_to_ratio(level_db).shape == (2, 2)
    np.testing.assert_allclose(units.ratio_to_db(units.db_to_ratio(level_db)), level_db, rtol=1e-14)


@pytest.mark.parametrize("value", [-0.1, math.nan, math.inf, np.array([1.0, -1.0])])
def test_ratio_must_be_a_size(value):
    with pytest.raises(UnitError, match="0 or more"):
        units.ratio_to_db(value)


@pytest.mark.parametrize("value", [401.0, math.inf, math.nan, np.array([0.0, math.nan])])
def test_level_must_be_within_reason(value):
    with pytest.raises(UnitError, match="at most 400 dB"):
        units.db_to_ratio(value)


@pytest.mark.parametrize("name", ["", "E", "1", "H2", "E#b1", "E###1", "E1.5", "Eb", "mi1"])
def test_note_needs_letter_and_octave(name):
    with pytest.raises(UnitError, match="like E1 or Bb0"):
        units.note_to_hz(name)


@pytest.mark.parametrize(("name", "same"), [("e1", "E1"), ("E#1", "F1"), ("Cb4", "B3"), ("B♭0", "A#0"), ("F##2", "G2")])
def test_note_spellings(name, same):
    assert units.note_to_hz(name) == units.note_to_hz(same)


@given(st.floats(1.0, 20000.0))
def test_nearest_note_is_within_half_a_semitone(hz):
    assert abs(units.cents(units.note_to_hz(units.hz_to_note(hz)), hz)) <= 50.0 + 1e-9


@pytest.mark.parametrize("hz", [0.0, -1.0, math.nan, math.inf, 2e7])
def test_pitch_needs_a_frequency(hz):
    with pytest.raises(UnitError, match="above zero"):
        units.hz_to_note(hz)
    with pytest.raises(UnitError, match="above zero"):
        units.cents(440.0, hz)
    with pytest.raises(UnitError, match="above zero"):
        units.cents(hz, 440.0)


def test_cents_count_upwards_from_the_first():
    assert units.cents(440.0, 880.0) == pytest.approx(1200.0, abs=1e-9)
    assert units.cents(880.0, 440.0) == pytest.approx(-1200.0, abs=1e-9)
    assert units.cents(55.0, 55.0) == 0.0


def test_a_guess_is_made_at_a_slip_of_the_pen_and_not_at_a_longer_text():
    """Twenty characters are still one value; what is longer was not meant as one."""
    slip = "1," + 16 * "0" + " k"
    assert len(slip) == 20
    with pytest.raises(UnitError, match="use a point for the decimals"):
        units.ohms(slip)
    with pytest.raises(UnitError) as told:
        units.ohms(slip.replace("k", "kk"))
    assert "use a point" not in str(told.value)
