'use strict';

// @ts-check
// How a signal is read between its samples, and how it switches between them: numbers that network and worklet
// share. Windows are Kaiser's: J. F. Kaiser, 1974 (from memory).
(() => {
  const GRID = 11; // samples and half samples, from −2 to 3, that a polynomial between 0 and 1 goes through
  const FROM = -2;
  const [NETWORK_REACH, CLIPPING_REACH] = [20, 48]; // samples on either side that a half sample is read from
  const READING_BETA = 9;

  // Clipping, at twice the rate, as in Python (sampling/switching.py and signal/filtering/limits.py).
  const SPREAD = 32; // half samples on either side of an instant that a step is spread over
  const CUTOFF = 0.48; // half-gain frequency of a step's harmonics, in parts of twice the rate
  const STEP_BETA = 12;
  const DENSITY = 256; // points a half sample
  const HALVING = 64; // half samples on either side that a sample is made from again
  const HALVING_BETA = 10;

  /** The modified Bessel function of order 0, by its power series. @type {(x: number) => number} */
  function bessel(x) {
    let [sum, term] = [1, 1];
    for (let k = 1; term > 1e-17 * sum; k += 1) {
      term *= (x / (2 * k)) ** 2;
      sum += term;
    }
    return sum;
  }

  /** A windowed sinc. @type {(x: number, half: number, beta: number) => number} */
  function windowed(x, half, beta) {
    const sinc = x === 0 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x);
    return sinc * bessel(beta * Math.sqrt(Math.max(0, 1 - (x / half) ** 2))) / bessel(beta);
  }

  /**
   * How half samples are read: `taps` over the samples from `reach` − 1 before to `reach` after, and where the sample at 0
   * stands (`now`) among all (`points`) that a polynomial needs.
   * @param {number} reach
   */
  function reading(reach) {
    const taps = Float64Array.from({ length: 2 * reach }, (_, i) => windowed(i - reach + 0.5, reach, READING_BETA));
    const sum = taps.reduce((total, tap) => total + tap, 0);
    return { reach, now: reach - FROM - 1, points: 2 * (reach - FROM), taps: taps.map((tap) => tap / sum) };
  }

  /** A band-limited step from 0 to 1: the integral of a windowed sinc. @returns {Float64Array} */
  function step() {
    const count = 2 * SPREAD * DENSITY + 1;
    const sums = new Float64Array(count);
    let before = 0;
    for (let i = 1; i < count; i += 1) {
      const here = windowed(2 * CUTOFF * (i / DENSITY - SPREAD), 2 * CUTOFF * SPREAD, STEP_BETA);
      sums[i] = sums[i - 1] + here + before;
      before = here;
    }
    return sums.map((sum) => sum / sums[count - 1]);
  }

  /** What makes a sample of half samples around it: a half-band low-pass, −HALVING … HALVING. */
  function halving() {
    const taps = Float64Array.from({ length: 2 * HALVING + 1 }, (_, i) => windowed((i - HALVING) / 2, HALVING / 2, HALVING_BETA));
    const sum = taps.reduce((total, tap) => total + tap, 0);
    return taps.map((tap) => tap / sum);
  }

  const [network, clipping] = [reading(NETWORK_REACH), reading(CLIPPING_REACH)];

  globalThis.sublatch ??= {};
  sublatch.tables = {
    GRID, FROM, SPREAD, DENSITY, HALVING, network, clipping, step: step(), halving: halving(),
    // Samples by which what leaves the worklet comes after what enters it.
    LATE: network.points - 1 - network.now + clipping.points - 1 - clipping.now + (SPREAD + HALVING) / 2,
  };
})();
