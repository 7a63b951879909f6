'use strict';

// @ts-check
// How a signal is read between its samples, and what an exact instant of clipping adds to those around it: numbers that
// network and worklet share. Windows are Kaiser's: J. F. Kaiser, 1974 (from memory).
(() => {
  const REACH = 16; // samples on either side that a half sample is read from
  const READING_BETA = 9;
  const GRID = 11; // samples and half samples, from −2 to 3, that a polynomial between 0 and 1 goes through
  const FROM = -2;
  const NOW = REACH + 1; // where the sample at 0 stands among the samples that all of these are read from
  const POINTS = 2 * (REACH + 2);

  const JUMPS = 3; // derivatives of a signal that jump where it is clipped
  const HALF = 24; // samples on either side of an instant of clipping that its jumps are spread over
  const DENSITY = 256; // points a sample
  const CLIPPING_BETA = 14;

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

  /** What a half sample is read from: the samples −REACH + 1 … REACH around it. */
  function halfway() {
    const taps = Float64Array.from({ length: 2 * REACH }, (_, i) => windowed(i - REACH + 0.5, REACH, READING_BETA));
    const sum = taps.reduce((total, tap) => total + tap, 0);
    return taps.map((tap) => tap / sum);
  }

  /** The running integral of a table. @type {(of: Float64Array) => Float64Array} */
  function integral(of) {
    const sums = new Float64Array(of.length);
    for (let i = 1; i < of.length; i += 1) sums[i] = sums[i - 1] + (of[i] + of[i - 1]) / (2 * DENSITY);
    return sums;
  }

  /**
   * What a band-limited jump of each derivative has beyond one that is drawn from sample to sample: the repeated integral
   * of a windowed sinc, less x, x² / 2 … after the instant.
   * @returns {Float64Array[]}
   */
  function jumps() {
    const count = 2 * HALF * DENSITY + 1;
    let values = integral(Float64Array.from({ length: count }, (_, i) => windowed(i / DENSITY - HALF, HALF, CLIPPING_BETA)));
    values = values.map((value) => value / values[count - 1]);
    let factorial = 1;
    return Array.from({ length: JUMPS }, (_, i) => {
      values = integral(values);
      factorial *= i + 1;
      return values.map((value, at) => value - Math.max(0, at / DENSITY - HALF) ** (i + 1) / factorial);
    });
  }

  globalThis.sublatch ??= {};
  sublatch.tables = {
    REACH, GRID, FROM, NOW, POINTS, HALF, DENSITY, halfway: halfway(), jumps: jumps(),
    LATE: 2 * (POINTS - 1 - NOW) + HALF - 1, // samples by which what leaves the worklet comes after what enters it
  };
})();
