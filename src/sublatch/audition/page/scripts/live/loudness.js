'use strict';

// @ts-check
// The loudness of any setting, from what Python measured of the bare sound in each gating block and band
// (audition/live/bands.py): no sound is made for it, and clipping is not in it. And that of samples, clipping and all.
(() => {
  const [BANDS, FIGURES] = [33, 5];
  const [ABSOLUTE_LUFS, RELATIVE_LU, OFFSET] = [-70, -10, -0.691]; // ITU-R BS.1770-4
  const POINTS = 161;

  /**
   * Integrated loudness from the gating blocks' mean squares.
   * @param {ArrayLike<number>} powers weighted, of full scale squared
   * @returns {number | null} LUFS; null where no block is loud enough
   */
  function gated(powers) {
    const mean = (/** @type {number} */ threshold) => {
      let [sum, count] = [0, 0];
      for (let i = 0; i < powers.length; i += 1) {
        if (OFFSET + 10 * Math.log10(powers[i]) <= threshold) continue;
        sum += powers[i];
        count += 1;
      }
      return count ? OFFSET + 10 * Math.log10(sum / count) : null;
    };
    const first = mean(ABSOLUTE_LUFS);
    return first === null ? null : mean(Math.max(ABSOLUTE_LUFS, first + RELATIVE_LU));
  }

  const [BLOCK_S, STEP_S] = [0.4, 0.1];
  const WEIGHED_AT = 48000; // the rate that the standard gives its filters for

  // BS.1770's two filters at any rate: high shelf and high-pass, by the bilinear transform with these parameters
  // (B. De Man, "Evaluation of implementations of the EBU R128 loudness measurement", 2018; from memory).
  /** @type {(rate: number) => number[][]} b0, b1, b2, a1, a2 of each */
  function weighting(rate) {
    const [shelf, high] = [Math.tan(Math.PI * 1681.974450955533 / rate), Math.tan(Math.PI * 38.13547087602444 / rate)];
    const [above, middle] = [10 ** (3.999843853973347 / 20), 10 ** (3.999843853973347 / 20 * 0.4996667741545416)];
    const denominator = (/** @type {number} */ k, /** @type {number} */ q) => [1 + k / q + k * k, 2 * (k * k - 1), 1 - k / q + k * k];
    const made = (/** @type {number[]} */ b, /** @type {number[]} */ [a0, a1, a2]) => [...b.map((each) => each / a0), a1 / a0, a2 / a0];
    const [q1, q2] = [0.7071752369554196, 0.5003270373238773];
    const lifted = [above + middle * shelf / q1 + shelf ** 2, 2 * (shelf ** 2 - above), above - middle * shelf / q1 + shelf ** 2];
    const [a0, a1, a2] = denominator(high, q2);
    return [made(lifted, denominator(shelf, q1)), [1, -2, 1, a1 / a0, a2 / a0]];
  }

  const WEIGHED = weighting(WEIGHED_AT);

  /** By how much loudness counts the power at a frequency. @type {(hertz: number) => number} */
  function weight(hertz) {
    const turn = 2 * Math.PI * hertz / WEIGHED_AT;
    const size = (/** @type {number[]} */ [zero, one, two]) => (
      (zero + one * Math.cos(turn) + two * Math.cos(2 * turn)) ** 2 + (one * Math.sin(turn) + two * Math.sin(2 * turn)) ** 2);
    return WEIGHED.reduce((gain, [b0, b1, b2, a1, a2]) => gain * size([b0, b1, b2]) / size([1, a1, a2]), 1);
  }

  /**
   * Integrated loudness of samples of ±1 full scale.
   * @param {Float32Array} samples
   * @param {number} rate
   * @returns {number | null} LUFS
   */
  function measured(samples, rate) {
    const [one, two] = weighting(rate);
    const ends = new Float64Array(samples.length + 1);
    let [p, q, r, s] = [0, 0, 0, 0];
    for (let i = 0; i < samples.length; i += 1) {
      const x = one[0] * samples[i] + p; // transposed direct form II, one after the other
      p = one[1] * samples[i] - one[3] * x + q;
      q = one[2] * samples[i] - one[4] * x;
      const y = two[0] * x + r;
      r = two[1] * x - two[3] * y + s;
      s = two[2] * x - two[4] * y;
      ends[i + 1] = ends[i] + y * y;
    }
    const length = Math.round(BLOCK_S * rate);
    const blocks = Math.max(0, Math.floor((samples.length / rate - BLOCK_S) / STEP_S + 1e-9) + 1);
    return gated(Array.from({ length: blocks }, (_, block) => {
      const start = Math.round(block * STEP_S * rate);
      return (ends[Math.min(start + length, samples.length)] - ends[start]) / length;
    }));
  }

  class Loudness {
    /** @param {Float32Array} figures blocks × BANDS × FIGURES */
    constructor(figures) {
      this.blocks = figures.length / (BANDS * FIGURES);
      this.figures = figures;
      this.grid = sublatch.response.geometric(10, 20e3, POINTS);
      // Each centroid's place on the grid, so that a setting's gains are read by a straight line between two points.
      this.places = new Float32Array(this.blocks * BANDS);
      const perUnit = (POINTS - 1) / Math.log(this.grid[POINTS - 1] / this.grid[0]);
      for (let i = 0; i < this.places.length; i += 1) {
        const place = Math.log(figures[i * FIGURES] / this.grid[0]) * perUnit;
        this.places[i] = Number.isFinite(place) ? Math.min(Math.max(place, 0), POINTS - 1.001) : 0;
      }
    }

    /**
     * @param {(hertz: number) => Float64Array} gain from the `response`, to the output
     * @returns {number | null} LUFS
     */
    of(gain) {
      const weights = new Float64Array(POINTS * 4); // |H|², |K|², and twice H K*
      this.grid.forEach((hertz, i) => {
        const [a, b, c, d] = gain(hertz);
        weights.set([a * a + b * b, c * c + d * d, 2 * (a * c + b * d), 2 * (b * c - a * d)], i * 4);
      });
      const powers = new Float64Array(this.blocks);
      for (let block = 0, i = 0; block < this.blocks; block += 1) {
        let sum = 0;
        for (let band = 0; band < BANDS; band += 1, i += 1) {
          const whole = Math.floor(this.places[i]);
          const [at, share, from] = [whole * 4, this.places[i] - whole, i * FIGURES + 1];
          for (let k = 0; k < 4; k += 1) {
            const sign = k === 3 ? -1 : 1; // Re(H K* S) = Re(H K*) Re S − Im(H K*) Im S
            sum += sign * this.figures[from + k] * (weights[at + k] + share * (weights[at + 4 + k] - weights[at + k]));
          }
        }
        powers[block] = sum;
      }
      return gated(powers);
    }
  }

  globalThis.sublatch ??= {};
  sublatch.Loudness = Loudness;
  sublatch.loudness = { gated, measured, weight };
})();
