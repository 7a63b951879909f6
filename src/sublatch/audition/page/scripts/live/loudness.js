'use strict';

// @ts-check
// The loudness of any setting, from what Python measured of the bare sound in each gating block and band
// (audition/live/bands.py): no sound is made for it. Clipping is not in it: see `measured` in measure.js for that.
(() => {
  const [BANDS, FIGURES] = [33, 5];
  const [ABSOLUTE_LUFS, RELATIVE_LU, OFFSET] = [-70, -10, -0.691]; // ITU-R BS.1770-4
  const POINTS = 241;

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
     * @param {(hertz: number) => Float64Array} gain from `response.gains`, to the output
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
  sublatch.loudness = { gated };
})();
