"""Weight, body and bite against the bypassed take, and a bass against its bed."""

import json

import numpy as np
import pytest

from oracles import db
from small_auditions import write_plan
from sublatch.audition.listen.balance import balance, standing
from sublatch.audition.listen.measurements import measure
from sublatch.audition.listen.monitoring import read_bed
from sublatch.circuit.load import load_circuit
from sublatch.demo.strings import pluck
from sublatch.files.sound import write_audio
from sublatch.json_data import plain_values
from sublatch.sampling.bands import NOMINAL_HZ
from sublatch.signal.chain import render
from sublatch.takes.take import read_take, take_from_samples

RATE = 8000


def weighed(candidate, bypassed, gain_db=0.0):
    """Return the balance of two sounds (n,)."""
    regions = (measure(samples, sample_rate=RATE).regions for samples in (candidate, bypassed))
    return balance(*regions, gain_db=gain_db)


def compared(bass, bed, full_scale_volts=1.0):
    """Return how a bass (n,) stands to a bed (m,)."""
    sounds = (measure(samples, sample_rate=RATE, full_scale_volts=full_scale_volts) for samples in (bass, bed))
    return standing(*(sound.bands_db for sound in sounds))


def bed_of(folder, bass, bed, bed_rate=RATE):
    """Return the bed of a take as it is heard, both from files."""
    write_audio(folder / "a.wav", bass, RATE)
    write_audio(folder / "bed.wav", bed, bed_rate)
    plan = write_plan(folder, head='bed = "bed.wav"')
    return read_bed(plan, plan.plan.takes[0], read_take(folder / "a.wav")).samples


@pytest.fixture
def chord(sine):
    """Make a sound of one sine in each region: 40, 160 and 800 Hz, of given amplitudes."""
    return lambda *parts: sum(
        sine(hz, 2.0, rate=RATE, amplitude=a) for hz, a in zip((40.0, 160.0, 800.0), parts, strict=True)
    )


def test_three_sines(chord):
    found = weighed(chord(0.4, 0.1, 0.05), chord(0.1, 0.2, 0.2))
    assert found.weight_db == pytest.approx(db(4), abs=1e-6)
    assert found.body_db == pytest.approx(db(0.5), abs=1e-6)
    assert found.bite_db == pytest.approx(db(0.25), abs=1e-6)


def test_gains_shift_all_three(chord):
    found = weighed(chord(0.1, 0.1, 0.1), chord(0.1, 0.1, 0.1), -7.0)
    assert (found.weight_db, found.body_db, found.bite_db) == pytest.approx((-7.0,) * 3, abs=1e-9)
    found = weighed(chord(0.1, 0.1, 0.1), chord(0.2, 0.2, 0.2), 5.0)
    assert found.weight_db == pytest.approx(5.0 - db(2), abs=1e-6)


def test_a_take_against_itself_is_0(rng):
    noise = rng.standard_normal(5000)
    assert set(plain_values(weighed(noise, noise)).values()) == {0.0}


def test_an_offset_weighs_nothing(chord):
    plain = chord(0.1, 0.1, 0.1)
    assert weighed(plain + 0.5, plain).weight_db == pytest.approx(0.0, abs=1e-6)


def test_where_nothing_is_there_is_no_level(chord):
    found = weighed(chord(0.0, 0.1, 0.1), chord(0.1, 0.1, 0.1))
    assert found.weight_db is None
    assert found.body_db == pytest.approx(0.0, abs=1e-6)
    silent = weighed(np.zeros(100), np.zeros(100))
    assert json.dumps(plain_values(silent)) == '{"weight_db": null, "body_db": null, "bite_db": null}'


def test_an_octave_down_has_more_weight_and_less_bite():
    """Common practice, no source: what an octave divider with a low tone knob is for."""
    take = take_from_samples(pluck(82.4, seconds=2.0, sample_rate=RATE), RATE)
    made = render(take, load_circuit("gated-swept", changes={"knobs.tone": 2.0})).samples
    gain_db = db(np.std(take.samples) / np.std(made))
    found = weighed(made, take.samples, gain_db)
    assert found.weight_db > 6
    assert found.bite_db < -6


def test_a_bass_above_its_bed(sine):
    bass = sine(50.0, 2.0, rate=RATE, amplitude=0.5) + sine(200.0, 2.0, rate=RATE, amplitude=0.1)
    bass += sine(1600.0, 2.0, rate=RATE, amplitude=0.001)
    bed = sine(200.0, 3.0, rate=RATE, amplitude=0.2) + sine(1000.0, 3.0, rate=RATE, amplitude=0.3)
    found = compared(bass, bed, full_scale_volts=0.5)
    assert found.bands_hz == NOMINAL_HZ
    assert found.above_hz == (50.0,)  # at 1.6 kHz it is there alone, but 54 dB down
    level = dict(zip(found.bands_hz, zip(found.bass_db, found.bed_db, strict=True), strict=True))
    assert level[50.0][0] == pytest.approx(0.0, abs=1e-6)
    assert level[200.0] == pytest.approx((db(0.2), db(0.4)), abs=1e-6)
    assert level[1000.0][1] == pytest.approx(db(0.6), abs=1e-6)


def test_the_bed_counts_while_the_bass_plays(sine, tmp_path):
    bass = sine(100.0, 1.0, rate=RATE, amplitude=0.2)
    bed = np.concatenate((sine(100.0, 1.0, rate=RATE, amplitude=0.1), sine(100.0, 9.0, rate=RATE, amplitude=0.9)))
    assert compared(bass, bed_of(tmp_path, bass, bed)).above_hz == (100.0,)


def test_a_bed_of_another_rate(sine, tmp_path):
    bass = sine(100.0, 1.0, rate=RATE, amplitude=0.1)
    same = compared(bass, sine(200.0, 1.0, rate=RATE, amplitude=0.5))
    other = compared(bass, bed_of(tmp_path, bass, sine(200.0, 1.0, rate=44100, amplitude=0.5), 44100))
    band = NOMINAL_HZ.index(200.0)
    assert other.bed_db[band] == pytest.approx(same.bed_db[band], abs=1e-3)


def test_silence_stands_nowhere(sine):
    silent = np.zeros(RATE)
    assert compared(silent, sine(100.0, 1.0, rate=RATE)).above_hz == ()
    alone = compared(sine(100.0, 1.0, rate=RATE), silent)
    assert alone.above_hz == (100.0,)
    assert json.loads(json.dumps(plain_values(alone)))["bed_db"] == [None] * 25


def test_a_bass_40_db_under_its_strongest_band_is_the_last_to_stand_above_a_bed():
    levels_db = [None] * len(NOMINAL_HZ)
    levels_db[3], levels_db[4], levels_db[5] = -10.0, -49.9, -50.1
    stands = standing(levels_db, [None] * len(NOMINAL_HZ))
    assert stands.above_hz == (NOMINAL_HZ[3], NOMINAL_HZ[4])
