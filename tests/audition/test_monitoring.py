"""Listening in its place: matched as heard, files bare, reels and page as heard, beds and voicings that cannot be.

Published: EBU R 128 loudness by libebur128, a second opinion beside the program's own meter.
"""

from __future__ import annotations

import io
import json
import re
from base64 import b64decode
from urllib.parse import unquote

import numpy as np
import pyebur128
import pytest
import soundfile
from scipy.signal import fftconvolve

from small_auditions import CANDIDATES, RATE, content, note, times, write_plan
from sublatch.audition.folder.layout import Layout
from sublatch.audition.listen.loudspeaker import impulse_response, voiced
from sublatch.audition.listen.monitoring import Monitoring, read_bed, read_voicing, voicing_response
from sublatch.audition.page.data import offsets_db, page_monitoring
from sublatch.audition.plan.load import load_audition
from sublatch.audition.run import run_audition
from sublatch.errors import OutputError, PlanError
from sublatch.files.sound import read_audio, write_audio
from sublatch.takes.remarks import Remark
from sublatch.takes.take import read_take, take_from_samples
from sublatch.tracking import track

pytestmark = pytest.mark.usefixtures("plain_page")

FULL_RATE = 48000
HEAD = 'voicing = "loudspeaker"\nbed = "bed.wav"\nbed_level = "-3dB"'


def beats(seconds, rate=FULL_RATE):
    """Return a bed of four tones, one after another, the same in every run."""
    time_s = np.arange(round(seconds * rate)) / rate
    return 0.4 * np.sin(2 * np.pi * 110 * 2 ** np.floor(4 * time_s / seconds) * time_s) * np.exp(-4 * (time_s % 0.25))


def ringing(rate=FULL_RATE, *, silence_s=0.01):
    """Return an impulse response of a fifth of a second after some silence."""
    noise = np.random.default_rng(5).standard_normal(rate // 5) * np.exp(-np.arange(rate // 5) / (0.01 * rate))
    return np.concatenate([np.zeros(round(silence_s * rate)), 0.3 * noise / np.max(np.abs(noise))])


@pytest.fixture
def place(tmp_path):
    """Give a folder with a take of a second, a bed and an impulse response."""
    take = note(1.0, rate=FULL_RATE) + note(1.0, rate=FULL_RATE, pitch_hz=410.0, peak=0.1)
    write_audio(tmp_path / "a.wav", take, FULL_RATE)
    write_audio(tmp_path / "bed.wav", beats(1.0), FULL_RATE)
    write_audio(tmp_path / "ir.wav", ringing(), FULL_RATE)
    return tmp_path


def carried(folder, told):
    """Return the samples that a sound script holds, with the gain that is told."""
    text = (folder / unquote(told["sound"])).read_text(encoding="ascii")
    key, packed = re.search(r"sublatchSound\((\".*?\"), \(\) => \{/\*(.*)\*/\}\);\n\Z", text).groups()
    assert json.loads(key) == told["key"]
    return 10 ** (told["gain_db"] / 20) * soundfile.read(io.BytesIO(b64decode(packed)))[0]


def loudness(samples, rate=FULL_RATE):
    state = pyebur128.R128State(1, rate, pyebur128.MeasurementMode.MODE_I)
    state.add_frames(np.ascontiguousarray(samples), len(samples))
    return pyebur128.get_loudness_global(state)


def below_db(found, wanted):
    return 20 * np.log10(np.std(found - wanted) / np.std(wanted))


@pytest.mark.parametrize("rate", [44100, 48000, 96000])
def test_convolving_with_the_response_is_listening_through_the_loudspeaker(rate):
    take = note(1.0, rate=rate) + note(1.0, rate=rate, pitch_hz=2900.0, peak=0.05)
    found = voicing_response("loudspeaker", rate)
    assert len(found.samples) <= 8192
    made = fftconvolve(take, found.samples)[found.ahead : found.ahead + len(take)]
    assert below_db(made, voiced(take, sample_rate=rate, voicing="loudspeaker")) < -80.0


@pytest.mark.parametrize("rate", [44100, 48000])
def test_convolving_with_the_response_is_listening_through_an_own_one(rate, rng):
    own = impulse_response(ringing(), sample_rate=FULL_RATE)
    take = rng.standard_normal(rate)
    found = voicing_response(own, rate)
    made = fftconvolve(take, found.samples)[found.ahead : found.ahead + len(take)]
    assert below_db(made, voiced(take, sample_rate=rate, voicing=own)) < -80.0


@pytest.mark.parametrize("voicing", ["loudspeaker", "ir.wav"])
def test_candidates_are_equally_loud_as_heard_and_with_the_voicing_off(place, voicing):
    plan = write_plan(place, head=f'voicing = "{voicing}"')
    through, _ = read_voicing(plan)
    (take,) = run_audition(plan).takes
    heard, plain, files = [], [], []
    for told in take.candidates:
        file = read_audio(place / "audition" / told.file).samples[:, 0]
        files.append(loudness(file))
        heard.append(loudness(voiced(file, sample_rate=FULL_RATE, voicing=through)))
        plain.append(loudness(10 ** (offsets_db(told)["plain"] / 20) * file))
        assert offsets_db(told)["voiced"] == 0.0
    assert heard == pytest.approx([heard[0]] * 4, abs=0.1)  # EBU Tech 3341: a meter may be 0.1 LU out
    assert plain == pytest.approx([heard[0]] * 4, abs=0.1)
    assert np.ptp(files) > 0.3
    assert take.voicing.name == voicing


def test_without_a_place_nothing_is_told_of_one(place):
    (take,) = run_audition(write_plan(place)).takes
    assert page_monitoring(take) == {"voicing": None, "bed": None}
    for told in take.candidates:
        assert (told.plain_gain_db, told.heard_levels, told.standing) == (told.gain_db, None, None)
    assert not (place / "audition" / "places").exists()


@pytest.mark.parametrize("head", [HEAD, 'voicing = "ir.wav"\nbed = "bed.wav"', 'bed = "bed.wav"', 'voicing = "ir.wav"'])
def test_the_page_can_play_what_the_reel_has(place, head):
    (take,) = run_audition(write_plan(place, head=head)).takes
    reel = read_audio(place / "audition" / take.reel).samples[:, 0]
    told = page_monitoring(take)
    for number, candidate in enumerate(take.candidates):
        sound = read_audio(place / "audition" / candidate.file).samples[:, 0]
        total = sound
        if told["voicing"]:
            ahead = round(told["voicing"]["ahead_s"] * FULL_RATE)
            response = carried(place / "audition", told["voicing"])
            total = fftconvolve(sound, response)[ahead : ahead + len(sound)]
        if told["bed"]:
            total = total + carried(place / "audition", told["bed"])
        part = reel[2 * number * FULL_RATE : (2 * number + 1) * FULL_RATE]
        assert below_db(total, part) < -80.0
        assert below_db(sound, part) > -60.0


@pytest.mark.parametrize("level_db", [-6.0, 3.0])
def test_the_bed_is_as_loud_against_the_bypassed_take_as_the_plan_says(place, level_db):
    plan = write_plan(place, head=f'voicing = "loudspeaker"\nbed = "bed.wav"\nbed_level = "{level_db}dB"')
    (take,) = run_audition(plan).takes
    bypassed = read_audio(place / "audition" / take.candidates[0].file).samples[:, 0]
    heard = loudness(voiced(bypassed, sample_rate=FULL_RATE, voicing="loudspeaker"))
    bed = carried(place / "audition", page_monitoring(take)["bed"])
    assert loudness(bed) - heard == pytest.approx(level_db, abs=0.1)


@pytest.mark.parametrize("match", ["loudness", "rms", "peak", "none"])
def test_nothing_passes_the_headroom_whatever_is_switched_on(place, match):
    (take,) = run_audition(write_plan(place, head=f'{HEAD}\nmatch = "{match}"\nheadroom = "2dB"')).takes
    bed = carried(place / "audition", page_monitoring(take)["bed"])
    for told in take.candidates:
        file = read_audio(place / "audition" / told.file).samples[:, 0]
        plain = 10 ** (offsets_db(told)["plain"] / 20) * file
        through = voiced(file, sample_rate=FULL_RATE, voicing="loudspeaker")
        for sound in (file, plain, through, plain + bed, through + bed):
            assert 20 * np.log10(np.max(np.abs(sound))) <= -2.0 + 1e-4


def test_a_bed_of_another_rate_and_two_channels_becomes_one_at_the_takes_rate(place):
    both = np.stack([2 * beats(1.0, 44100), np.zeros(44100)], axis=1)
    write_audio(place / "bed.wav", both, 44100)
    plan = write_plan(place, head='bed = "bed.wav"')
    bed = read_bed(plan, plan.plan.takes[0], read_take(place / "a.wav"))
    middle = slice(2000, -2000)
    assert below_db(bed.samples[middle], beats(1.0)[: len(bed.samples)][middle]) < -30.0  # its steps ring otherwise


@pytest.mark.parametrize(("seconds", "remark"), [(0.4, True), (1.0, False), (3.0, False)])
def test_a_short_bed_ends_in_silence_and_a_long_one_with_the_take(place, seconds, remark):
    write_audio(place / "bed.wav", beats(seconds), FULL_RATE)
    (take,) = run_audition(write_plan(place, head='bed = "bed.wav"')).takes
    assert take.bed.seconds == pytest.approx(min(seconds, 1.0))
    text = "the bed ends 0.6 s before the take; there is silence after it"
    assert take.remarks == ((Remark("bed-ends", text),) if remark else ())
    reel = read_audio(place / "audition" / take.reel).samples[:, 0]
    bare = read_audio(place / "audition" / take.candidates[0].file).samples[:, 0]
    assert np.array_equal(reel[FULL_RATE // 2 : FULL_RATE], bare[FULL_RATE // 2 :]) == remark


def test_a_take_may_have_a_bed_of_its_own(place):
    write_audio(place / "b.wav", note(1.0, rate=FULL_RATE), FULL_RATE)
    write_audio(place / "own.wav", beats(0.8), FULL_RATE)
    write_plan(place)
    path = place / "plan.toml"
    takes = 'takes = ["a.wav", { file = "b.wav", bed = "own.wav", bed_level = 2 }]\nbed = "bed.wav"'
    path.write_text(path.read_text().replace('takes = ["a.wav"]', takes))
    first, second = run_audition(load_audition(path)).takes
    assert (first.bed.name, first.bed.level_db) == ("bed.wav", 0.0)
    assert (second.bed.name, second.bed.level_db) == ("own.wav", 2.0)


def test_the_standing_is_of_what_is_heard(place):
    (take,) = run_audition(write_plan(place, head=HEAD)).takes
    first = take.candidates[0].standing
    place_63 = first.bands_hz.index(63.0)
    # the take's 60 Hz stands above the bed's tones of 110 to 880 Hz
    assert 63.0 in first.above_hz
    assert first.bass_db[place_63] == max(first.bass_db)
    voiced_levels = take.candidates[0].heard_levels
    total_db = 10 * np.log10(sum(10 ** (level / 10) for level in first.bass_db if level is not None))
    assert total_db == pytest.approx(voiced_levels.rms_dbfs + take.candidates[0].gain_db, abs=0.05)


def test_the_balance_is_of_the_files(folder):
    (take,) = run_audition(write_plan(folder)).takes
    assert take.candidates[0].balance is None
    spectra = []
    for told in take.candidates:
        sound = read_audio(folder / "audition" / told.file).samples[:, 0]
        spectra.append(np.abs(np.fft.rfft(sound)) ** 2)
    hertz = np.fft.rfftfreq(round(0.6 * RATE), 1 / RATE)
    for told, spectrum in zip(take.candidates[1:], spectra[1:], strict=True):
        for name, low, high in (("body_db", 80, 300), ("bite_db", 300, 1500)):
            inside = 0.5 * ((hertz >= low) & (hertz < high)) + 0.5 * ((hertz > low) & (hertz <= high))  # edges on lines
            wanted = 10 * np.log10(np.sum(inside * spectrum) / np.sum(inside * spectra[0]))
            assert getattr(told.balance, name) == pytest.approx(wanted, abs=0.01)
    document = json.loads((folder / "audition" / "results.json").read_text(encoding="utf-8"))
    assert document["takes"][0]["candidates"][1]["balance"]["body_db"] == take.candidates[1].balance.body_db
    assert f",{take.candidates[1].balance.body_db:g}," in (folder / "audition" / "results.csv").read_text()


@pytest.mark.usefixtures("real_page")
def test_a_second_run_in_a_place_touches_and_measures_nothing(place, monkeypatch):
    plan = write_plan(place, head=HEAD)
    first, before = run_audition(plan), times(place / "audition")
    for work in (
        "render_candidate.measure",
        "render_candidate.render",
        "render_take.measure",
        "render_take.write_reel",
    ):
        monkeypatch.setattr(f"sublatch.audition.{work}", None)
    monkeypatch.setattr(track, "track", None)
    assert run_audition(plan) == first
    assert times(place / "audition") == before


def test_another_place_is_redone_as_it_would_be_at_first(place):
    run_audition(write_plan(place, head=HEAD))
    for head in ('voicing = "ir.wav"', 'bed = "bed.wav"', ""):
        plan = write_plan(place, head=head)
        run_audition(plan)
        run_audition(plan, output=place / f"fresh{len(head)}")
        assert content(place / "audition") == content(place / f"fresh{len(head)}")


@pytest.mark.parametrize(
    ("voicing", "words"),
    [
        ("gone.wav", r"plan\.toml: voicing: .*gone\.wav: there is no such file"),
        (
            "loudspeker",
            r"plan\.toml: voicing must be 'loudspeaker' or .*, got 'loudspeker'; did you mean 'loudspeaker'\?",
        ),
        ("still.wav", r"voicing: .*still\.wav must hold sound, got 100 samples of silence"),
        ("two.wav", r"voicing: .*two\.wav: an impulse response must be mono, got 2 channels that differ"),
        ("long.wav", r"long\.wav must be at most 5 s long, got 6\.0 s; is it a recording\?"),
    ],
)
def test_a_voicing_that_cannot_be_stops_everything(place, voicing, words):
    write_audio(place / "still.wav", np.zeros(100), 8000)
    write_audio(place / "two.wav", np.stack([note(), -note()], axis=1), 8000)
    write_audio(place / "long.wav", np.ones(48000), 8000)
    with pytest.raises(PlanError, match=words):
        run_audition(write_plan(place, head=f'voicing = "{voicing}"'))
    assert not (place / "audition").exists()


def test_two_equal_channels_are_one_impulse_response(place):
    write_audio(place / "ir.wav", np.stack([ringing(), ringing()], axis=1), FULL_RATE)
    own, name = read_voicing(write_plan(place, head='voicing = "ir.wav"'))
    assert (own.samples.shape, name) == (ringing().shape, "ir.wav")


@pytest.mark.parametrize(
    ("bed", "words"),
    [
        ("still.wav", "still.wav: a bed must sound while the take plays, got 1.0 s of silence"),
        ("plan.toml", "plan.toml: "),
    ],
)
def test_a_bed_that_cannot_be_is_told_with_its_take(place, bed, words):
    write_audio(place / "still.wav", np.concatenate([np.zeros(FULL_RATE), beats(1.0)]), FULL_RATE)
    (take,) = run_audition(write_plan(place, head=f'bed = "{bed}"')).takes
    assert words in take.error
    assert take.candidates == ()


def test_what_is_listened_with_is_not_written_over(place):
    with pytest.raises(OutputError):
        run_audition(write_plan(place, head='bed = "audition/reels/a.wav"', candidates=CANDIDATES))
    plan = write_plan(place, head=HEAD)
    files = set(Layout(plan.output, plan).all_files())
    assert {place / "audition/places/a/voicing.js", place / "audition/places/a/bed.js"} < files
    run_audition(plan)
    bare = {path for path in files if "bare" in path.parts}  # as many as candidates, unless they share them
    assert all(path.is_file() for path in files - bare)


def test_a_silent_take_may_have_a_bed(place):
    write_audio(place / "a.wav", np.zeros(FULL_RATE), FULL_RATE)
    (take,) = run_audition(write_plan(place, head=HEAD)).takes
    assert take.error is None
    assert np.max(np.abs(read_audio(place / "audition" / take.reel).samples)) <= 10 ** (-1 / 20)


def test_a_place_without_anything_changes_nothing():
    take = take_from_samples(note(), RATE)
    assert np.array_equal(Monitoring().heard(take.samples, RATE, bed_gain_db=None), take.samples)
