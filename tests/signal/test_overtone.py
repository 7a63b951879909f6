"""What the overtone detector is for, and how its settings are changed."""

import numpy as np
import pytest

from sublatch.circuit.detectors.bends import FullWave
from sublatch.circuit.detectors.overtone import Band, Blend, Overtone
from sublatch.circuit.detectors.peak_latch import PeakLatch
from sublatch.circuit.load import circuit_names, load_circuit
from sublatch.circuit.model import Circuit
from sublatch.errors import CircuitError
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import detected_edges, front, render
from sublatch.signal.front.bends import bent
from sublatch.takes.take import take_from_samples
from sublatch.tracking.lock import lock

SECONDS = 0.5


def note(rate, shares, *, pitch=41.2034, seconds=SECONDS):
    """A note of partials that rise within 20 ms and die away; `shares` are those from the first on; volts."""
    t = np.arange(round(seconds * rate)) / rate
    envelope = 0.4 * t**3 / (t**3 + 0.01**3) * np.exp(-2 * t)
    return envelope * sum(a * np.sin(2 * np.pi * n * pitch * t + n) for n, a in enumerate(shares, start=1))


RICH = [0.1, 0.3, 0.5, 0.4, 0.3, 0.2, 0.2, 0.15, 0.12, 0.1, 0.1, 0.08, 0.06, 0.05, 0.05, 0.04, 0.03, 0.02, 0.02, 0.02]


def filtered(samples, rate, circuit):
    """What the package's low-pass gives."""
    return front(take_from_samples(samples, rate), circuit, StageCache())[1]


IDEAL = {"values": "ideal"}


def overtone(**settings):
    """A circuit of ideal parts with an overtone detector of these settings."""
    detector = {"kind": "overtone", **settings}
    return Circuit(title="Test", octave={"kind": "gain-gated"}, detector=detector, devices=IDEAL)


def test_what_folds_at_the_rectifier_stays_below_the_hearing_of_the_latch():
    """A tone of 1313 Hz: |sin| has only even partials, so at no rate may anything stand between 0 and 2626 Hz."""
    for rate in (8000, 44100):
        t = np.arange(2 * rate) / rate
        wave = bent(np.sin(2 * np.pi * 1313.0 * t), law=FullWave(1), limits=(-3.0, 3.0))[rate // 2 : -rate // 2]
        spectrum = 4 * np.abs(np.fft.rfft(wave * np.hanning(len(wave)))) / len(wave)  # a Hann window has a mean of 1/2
        frequency = np.fft.rfftfreq(len(wave), 1 / rate)
        low = (frequency > 10) & (frequency < 300)
        assert 20 * np.log10(spectrum[low].max()) < -40
        assert spectrum[np.abs(frequency - 2626) < 4].max() == pytest.approx(4 / (3 * np.pi), rel=0.02)


def test_a_weak_fundamental_is_put_back():
    """The fundamental 26 dB under the second partial: the plain latch follows the octave, this one the note.

    The plain latch is of ideal parts; with typical ones it loses the note in other ways.
    """
    weak = [0.05, 1.0, 0.1, 0.5, 0.4, 0.4, 0.3, 0.3, 0.25, 0.2, 0.2, 0.15, 0.1, 0.1]
    take = take_from_samples(note(48000, weak, pitch=98.0, seconds=1.5), 48000)

    def share(kind, values="typical"):
        circuit = load_circuit("gated-open", changes={"detector.kind": kind, "devices.values": values})
        edges = detected_edges(take, circuit)
        return lock(edges[::2], start_s=0.1, end_s=1.4, pitch_hz=98.0).locked_share

    assert share("peak-latch", "ideal") < 0.1
    assert share("overtone", "ideal") > 0.99
    assert share("overtone") > 0.99


def test_diodes_turned_round_are_a_take_turned_over():
    """−x through one rectifier is what x is through the other, upside down."""
    samples = note(48000, RICH)
    positive, negative = (overtone(band={"rectifier": sign}) for sign in ("positive", "negative"))
    np.testing.assert_allclose(filtered(-samples, 48000, negative), -filtered(samples, 48000, positive), atol=1e-12)
    assert not np.allclose(filtered(samples, 48000, negative), filtered(samples, 48000, positive), rtol=0.1)


def test_silence_makes_no_edges():
    assert len(detected_edges(take_from_samples(np.zeros(48000), 48000), overtone())) == 0


@pytest.mark.parametrize("name", circuit_names())
def test_every_built_in_circuit_takes_it_with_values_of_its_own(name):
    circuit = load_circuit(name, changes={"detector.kind": "overtone"})
    assert circuit.detector == Overtone()
    rendered = render(take_from_samples(note(48000, RICH), 48000), circuit)
    assert len(rendered.drive_edges_s) > 5
    assert np.all(np.isfinite(rendered.samples))


def test_changes_of_its_parts_hold_beside_the_change_of_kind():
    changes = {
        "detector.filter.third_resistor": "39k",
        "detector.kind": "overtone",
        "detector.blend.coupling": "220n",
        "detector.band.filter.kind": "first-order",
        "detector.fraction": "60%",
    }
    detector = load_circuit("gated-swept", changes=changes).detector
    assert detector.filter == Overtone().filter.model_copy(update={"third_resistor": 39e3})
    assert detector.blend == Blend(coupling=220e-9)
    assert detector.band.filter.kind == "first-order"
    assert detector.fraction == 0.6
    assert detector.band.capacitor == Band().capacitor


def test_back_from_it_the_peak_latch_has_its_own_values(tmp_path):
    text = 'title = "T"\n[detector]\nkind = "overtone"\nfraction = "40%"\n[octave]\nkind = "gain-gated"\n'
    (tmp_path / "box.toml").write_text(text, encoding="utf-8")
    assert load_circuit(tmp_path / "box.toml").detector == Overtone(fraction=0.4)
    assert load_circuit(tmp_path / "box.toml", changes={"detector.kind": "peak-latch"}).detector == PeakLatch()
    again = load_circuit(tmp_path / "box.toml", changes={"detector.kind": "overtone"})
    assert again.detector == Overtone(fraction=0.4)


def test_between_the_plain_kinds_the_filter_stays():
    before = load_circuit("gated-open", changes={"detector.kind": "peak-latch"}).detector
    after = load_circuit("gated-open", changes={"detector.kind": "zero-crossing"}).detector
    assert after.filter == before.filter


def test_its_band_has_no_knob():
    with pytest.raises(CircuitError, match=r"detector\.band\.filter: the detector has no knob or switch"):
        load_circuit(
            "gated-open",
            changes={"detector.kind": "overtone", "detector.band.filter.kind": "swept-second-order"},
        )
