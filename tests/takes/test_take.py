"""Takes: volts, channels, remarks, and what cannot be one."""

import pickle

import numpy as np
import pytest
import soundfile

from sublatch.errors import AudioDataError, AudioFileError
from sublatch.takes.remarks import Remark
from sublatch.takes.take import clipped_runs, read_take, take_from_samples

NOTE = 0.5 * np.sin(np.arange(48000) * 2 * np.pi * 41.2 / 48000) * np.exp(-np.arange(48000) / 24000)


def write(path, samples, rate=48000, subtype="PCM_24"):
    soundfile.write(path, samples, rate, subtype=subtype)
    return path


def sawtooth(peak, *, period=100, count=4800):
    """Return a wave without flat tops."""
    return peak * (2 * (np.arange(count) % period) / (period - 1) - 1)


@pytest.mark.parametrize("volts", [0.5, 1.0, 2.2, 100.0])
def test_samples_are_in_volts(tmp_path, volts):
    take = read_take(write(tmp_path / "my take.wav", NOTE), full_scale_volts=volts)
    assert take.samples == pytest.approx(NOTE * volts, abs=volts * 2**-23)
    assert (take.full_scale_volts, take.full_scale_assumed) == (volts, False)
    assert (take.name, take.path, take.seconds, take.remarks) == ("my take", tmp_path / "my take.wav", 1.0, ())


def test_one_volt_is_assumed_and_said_to_be(tmp_path):
    take = read_take(write(tmp_path / "a.wav", NOTE))
    assert (take.full_scale_volts, take.full_scale_assumed) == (1.0, True)


@pytest.mark.parametrize(
    ("volts", "hint"), [(0, ""), (-1, ""), (float("nan"), ""), (float("inf"), ""), (1500, "; is it in millivolts?")]
)
def test_impossible_full_scales_are_refused(tmp_path, volts, hint):
    path = write(tmp_path / "a.wav", NOTE)
    words = rf"full_scale_volts must be above 0 and at most 100 V, got {volts} V"
    with pytest.raises(AudioDataError, match=words + hint.replace("?", r"\?")):
        read_take(path, full_scale_volts=volts)
    with pytest.raises(AudioDataError, match=words):
        take_from_samples(NOTE, 48000, full_scale_volts=volts)


def test_two_equal_channels_are_one_take(tmp_path):
    take = read_take(write(tmp_path / "a.wav", np.column_stack([NOTE, NOTE, NOTE])))
    assert take.samples.shape == NOTE.shape
    assert take.channels == 3
    assert take.samples.flags.c_contiguous


def test_different_channels_need_a_choice(tmp_path):
    path = write(tmp_path / "a.wav", np.column_stack([NOTE, NOTE / 10, 0 * NOTE]))
    words = (
        r"a\.wav: must be mono, got 3 channels that differ \(channel 1: peak -6\.\d dBFS, "
        r"channel 2: peak -26\.\d dBFS, channel 3: silent\); choose one with --channel 1 to 3"
    )
    with pytest.raises(AudioFileError, match=words):
        read_take(path)
    assert np.max(np.abs(read_take(path, channel=2).samples)) == pytest.approx(np.max(np.abs(NOTE)) / 10, abs=1e-6)


def test_one_step_of_difference_is_a_difference(tmp_path):
    pair = np.column_stack([NOTE, NOTE])
    pair[30000, 1] += 2**-20
    with pytest.raises(AudioFileError, match="2 channels that differ"):
        read_take(write(tmp_path / "a.wav", pair))


@pytest.mark.parametrize(("channels", "channel"), [(1, 2), (1, 0), (2, 3), (2, -1)])
def test_channels_that_are_not_there_are_refused(tmp_path, channels, channel):
    path = write(tmp_path / "a.wav", np.column_stack([NOTE] * channels))
    known = "the file has only channel 1" if channels == 1 else "the file has channels 1 to 2"
    with pytest.raises(AudioFileError, match=f"{known}, got channel {channel}; they are counted from 1"):
        read_take(path, channel=channel)


def test_integers_stored_as_floats_are_noticed(tmp_path):
    with pytest.raises(AudioFileError, match=r"got a peak of 16\d\d\d.*; are they integers stored as floats\?"):
        read_take(write(tmp_path / "a.wav", NOTE * 32767, subtype="FLOAT"))


def test_faults_of_the_file_come_through(tmp_path):
    with pytest.raises(AudioFileError, match="there is no such file"):
        read_take(tmp_path / "absent.wav")


# Remarks


def test_clipping_is_counted_and_placed(tmp_path):
    loud = np.clip(3 * NOTE, -1, 1)
    take = read_take(write(tmp_path / "a.wav", loud))
    flat = int(np.sum(np.abs(loud) == 1))
    first = np.flatnonzero(np.abs(loud) == 1)[0] / 48000
    expected = f"clipped: {flat} samples are flat at the top or bottom, the first at {first:.3f} s"
    assert len(take.remarks) == 1
    assert take.remarks[0].text.startswith(expected)


@pytest.mark.parametrize(
    ("samples", "expected"),
    [
        ([0, 1, 1, 1, 0.5, 1, 1, -1, -1, -1, -1, 0, 1, 1, 1], (10, 1)),
        ([-1, -1, -1, 0, 1, 1, 1], (6, 0)),
        ([0, 1, 1, 0, -1, -1, 0], (0, 0)),
        ([0.99, 0.99, 0.99, 0], (3, 0)),
        ([0.98, 0.98, 0.98, 0], (0, 0)),
        ([0.5, 0.995, 0.995, 0.995, 1.0, 0], (0, 0)),
        ([1, 1, 1, 1], (4, 0)),
        ([1.5, 1.5, 1.5, 0, -1, -1, -1], (6, 0)),
        ([0, 0, 0, 0], (0, 0)),
        ([1], (0, 0)),
    ],
)
@pytest.mark.parametrize("volts", [1.0, 0.3])
def test_runs_at_an_extreme_near_full_scale_count_as_clipped(samples, expected, volts):
    assert clipped_runs(np.array(samples, dtype=float) * volts, full_scale_volts=volts) == expected


def test_clipping_agrees_with_counting_by_hand():
    rng = np.random.default_rng(11)
    for _ in range(200):
        samples = rng.choice([-1.0, -0.2, 1.0], size=60, p=[0.45, 0.1, 0.45])
        count, first, run, value = 0, None, 0, None
        for index, sample in enumerate([*samples, 0.0]):
            if sample == value:
                run += 1
                continue
            if value in (samples.max(), samples.min()) and run >= 3:
                count += run
                first = index - run if first is None else first
            run, value = 1, sample
        assert clipped_runs(samples, full_scale_volts=1.0) == (count, first or 0)


def test_loud_takes_without_flat_tops_are_not_clipped(tmp_path):
    assert read_take(write(tmp_path / "a.wav", sawtooth(0.999))).remarks == ()
    over = read_take(write(tmp_path / "b.wav", sawtooth(2.0), subtype="FLOAT"))
    assert over.remarks == (Remark("over-full-scale", "over full scale: the peak is +6.0 dBFS"),)


@pytest.mark.parametrize(
    ("peak", "words"), [(0.0, "silent: every sample is 0"), (3e-5, "silent: the peak is -90 dBFS")]
)
def test_silence_is_legal_and_remarked_upon(tmp_path, peak, words):
    take = read_take(write(tmp_path / "a.wav", sawtooth(peak)))
    assert len(take.remarks) == 1
    assert take.remarks[0].text.startswith(words)


def test_a_very_quiet_take_is_not_silent(tmp_path):
    assert read_take(write(tmp_path / "a.wav", sawtooth(4e-5))).remarks == ()


@pytest.mark.parametrize(("offset", "said"), [(0.02, "+2.0 %"), (-0.05, "-5.0 %"), (0.009, None)])
def test_an_offset_is_remarked_upon(tmp_path, offset, said):
    take = read_take(write(tmp_path / "a.wav", sawtooth(0.5, count=48000) + offset), full_scale_volts=2.5)
    assert [remark.text.split(" of ")[0] for remark in take.remarks] == ([f"DC offset: {said}"] if said else [])


def test_a_single_sample_is_a_take(tmp_path):
    take = read_take(write(tmp_path / "a.wav", np.array([0.5])))
    assert take.samples.tolist() == [0.5]
    assert take.remarks == (Remark("too-short", "very short: 1 sample (0.0208 ms), too short for a note"),)


# In memory


def test_samples_in_memory_are_a_take_of_their_own():
    mine = NOTE.copy()
    take = take_from_samples(mine, 48000, full_scale_volts=2.0, name="note")
    mine[:] = 0
    assert np.array_equal(take.samples, NOTE)
    assert (take.name, take.path, take.full_scale_volts, take.full_scale_assumed) == ("note", None, 2.0, False)
    with pytest.raises(ValueError, match="read-only"):
        take.samples[0] = 1


def test_a_list_and_single_precision_will_do():
    take = take_from_samples([0.25, -0.5], 48000)
    assert (take.samples.dtype, take.samples.tolist()) == (np.float64, [0.25, -0.5])
    assert take_from_samples(np.float32([0.25]), 8000).samples.dtype == np.float64


@pytest.mark.parametrize(
    ("samples", "rate", "words"),
    [
        (
            np.zeros((480, 2)),
            48000,
            r"shape \(n,\), one channel, got \(480, 2\); give one channel, as in samples\[:, 0\]",
        ),
        (np.zeros((4, 2, 2)), 48000, r"got \(4, 2, 2\)$"),
        (np.array(1.0), 48000, r"got \(\)$"),
        (np.zeros(9, dtype=np.int16), 48000, "floats in volts, got int16; divide integers by their full scale"),
        (np.zeros(9, dtype=complex), 48000, "floats in volts, got complex128"),
        (np.array([]), 48000, "at least one sample, got none"),
        (np.array([0, np.nan, np.inf, 0]), 8000, r"got 2 that are not \(NaN or infinite\), the first at 0\.0001 s"),
        (NOTE * 1e5, 48000, r"in volts, got a peak of \d+\.?\d* V; are they integers\?"),
        (NOTE, 48, r"8000 to 192000 Hz, got 48; is it in kilohertz\?"),
        (NOTE, 44.1, r"got 44\.1; is it in kilohertz\?"),
        (NOTE, 0, "got 0"),
        (NOTE, 200000, "got 200000"),
    ],
)
def test_what_cannot_be_a_take_is_refused(samples, rate, words):
    with pytest.raises(AudioDataError, match=words):
        take_from_samples(samples, rate)


# Fingerprints


def test_the_fingerprint_depends_on_the_sound_only(tmp_path):
    first = take_from_samples(NOTE, 48000, name="a")
    assert len(first.fingerprint()) == 64
    assert first.fingerprint() == take_from_samples(NOTE, 48000, name="b").fingerprint()
    path = write(tmp_path / "a.wav", NOTE, subtype="DOUBLE")
    assert first.fingerprint() == read_take(path).fingerprint()


def test_any_difference_in_the_sound_changes_the_fingerprint():
    other = NOTE.copy()
    other[40000] = np.nextafter(other[40000], 1)
    prints = [
        take_from_samples(NOTE, 48000),
        take_from_samples(other, 48000),
        take_from_samples(NOTE, 44100),
        take_from_samples(NOTE, 48000, full_scale_volts=2.0),
        take_from_samples(NOTE[:-1], 48000),
    ]
    assert len({take.fingerprint() for take in prints}) == len(prints)


def test_a_take_travels_between_processes():
    take = take_from_samples(NOTE, 48000)
    known = take.fingerprint()
    copy = pickle.loads(pickle.dumps(take))
    assert np.array_equal(copy.samples, take.samples)
    assert copy.fingerprint() == known
