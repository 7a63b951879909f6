'use strict';

// @ts-check
// What a setting sounds like over the whole take, without its sound: third octaves, weight, body and bite, how far it is
// from another, how evenly the tone knob goes. The same formulas as in Python (parts/sound_bands.py, audition/listen/
// balance.py, parts/knobs/same_sound.py and travel.py); limits of the supply are left out.
(() => {
  const [BANDS, CELLS, FIRST] = [25, 16, 13]; // IEC 61260-1: mid-band frequencies 10^(k/10), k from 13
  const FIGURES = 4; // of each cell: octave, direct, both together
  const REGIONS_HZ = [10, 80, 300, 1500];
  const NOMINAL_HZ = [
    20, 25, 31.5, 40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1600, 2000, 2500, 3150, 4000, 5000,
  ];
  const [SINE_DB, HEARD_DB, FAINTEST, LOUDNESS_EXPONENT] = [10 * Math.log10(2), 40, 1e-9, 0.25];
  const FULL_TURN = 10;
  const [COARSE_TONE, FINER_STEPS, BEST_COARSE] = [0.5, [0.25, 0.1, 0.04, 0.01], 3];

  /** @type {(cell: number) => number} */
  const edge = (cell) => 10 ** ((FIRST - 0.5 + cell / CELLS) / 10);
  const CENTRES_BY_THIRDS_HZ = Array.from({ length: BANDS }, (_, band) => 10 ** ((FIRST + band) / 10));
  const CENTRES_HZ = Array.from({ length: BANDS * CELLS }, (_, cell) => edge(cell + 0.5));
  /** How many numbers of a file of powers tell of the whole take. */
  const COUNT = BANDS * CELLS * FIGURES + REGIONS_HZ.length - 1;

  /** Power in each cell. @type {(cells: Float32Array, gains: (hertz: number) => Float64Array) => Float64Array} */
  function cellPowers(cells, gains) {
    return Float64Array.from(CENTRES_HZ, (hertz, cell) => {
      const [re, im, directRe, directIm] = gains(hertz);
      const [octave, direct, both, turned] = cells.subarray(FIGURES * cell, FIGURES * (cell + 1));
      const [crossRe, crossIm] = [re * directRe + im * directIm, im * directRe - re * directIm];
      const power = (re * re + im * im) * octave + (directRe ** 2 + directIm ** 2) * direct;
      return Math.max(power + 2 * (crossRe * both - crossIm * turned), 0);
    });
  }

  /** Powers in thirds of an octave. @type {(powers: Float64Array) => number[]} */
  function thirds(powers) {
    return Array.from({ length: BANDS }, (_, band) => powers.slice(band * CELLS, (band + 1) * CELLS).reduce((sum, one) => sum + one, 0));
  }

  /** Powers in weight, body and bite; a cell that an edge cuts gives each side its share. @type {(powers: Float64Array) => number[]} */
  function regions(powers) {
    const share = (/** @type {number} */ cell, /** @type {number} */ low, /** @type {number} */ high) => {
      const [from, to] = [edge(cell), edge(cell + 1)];
      return Math.max(Math.min(to, high) - Math.max(from, low), 0) / (to - from);
    };
    return REGIONS_HZ.slice(0, -1).map((low, i) => (
      powers.reduce((sum, power, cell) => sum + power * share(cell, low, REGIONS_HZ[i + 1]), 0)));
  }

  /** Weight, body and bite against the take's own, in dB. @type {(powers: Float64Array, own: ArrayLike<number>, gainDb: number) => (number | null)[]} */
  function balance(powers, own, gainDb) {
    return regions(powers).map((power, i) => (power > 0 && own[i] > 0 ? 10 * Math.log10(power / own[i]) + gainDb : null));
  }

  /** Levels in thirds of an octave, of a full-scale sine. @type {(powers: Float64Array, gainDb: number) => number[]} */
  function thirdLevels(powers, gainDb) {
    return thirds(powers).map((power) => 10 * Math.log10(power) + SINE_DB + gainDb);
  }

  /** The bands in which it stands above a bed, by their nominal frequencies. @type {(powers: Float64Array, bedDb: (number | null)[], gainDb: number) => number[]} */
  function above(powers, bedDb, gainDb) {
    const all = thirdLevels(powers, gainDb);
    const faintest = Math.max(...all) - HEARD_DB;
    return NOMINAL_HZ.filter((_, i) => all[i] >= faintest && (bedDb[i] === null || all[i] > /** @type {number} */ (bedDb[i])));
  }

  /** How far one sound is from another as heard, at matched level, in dB. @type {(powers: number[], wanted: number[]) => number} */
  function difference(powers, wanted) {
    const levels = (/** @type {number[]} */ all) => all.map((one) => 10 * Math.log10(Math.max(one, FAINTEST * Math.max(...all))));
    const loud = wanted.map((power, i) => (sublatch.loudness.weight(10 ** ((FIRST + i) / 10)) * power) ** LOUDNESS_EXPONENT);
    const sum = loud.reduce((total, one) => total + one, 0);
    const [made, asked] = [levels(powers), levels(wanted)];
    const apart = made.map((level, i) => level - asked[i]);
    const mean = apart.reduce((total, each, i) => total + each * loud[i] / sum, 0);
    return Math.sqrt(apart.reduce((total, each, i) => total + (each - mean) ** 2 * loud[i] / sum, 0));
  }

  /**
   * Where the tone knob sounds nearest: the best of a coarse grid, then in ever finer steps around the best few.
   * @param {(place: {tone: number, peak: string | null}) => number} miss
   * @param {(string | null)[]} peaks
   */
  function nearest(miss, peaks) {
    const known = new Map();
    const at = (/** @type {number} */ tone, /** @type {string | null} */ peak) => {
      const place = { tone: Math.round(100 * Math.min(Math.max(tone, 0), FULL_TURN)) / 100, peak };
      const key = `${place.tone} ${peak}`;
      if (!known.has(key)) known.set(key, { ...place, difference_db: miss(place) });
      return known.get(key);
    };
    const best = (/** @type {any[]} */ all) => all.reduce((one, other) => (other.difference_db < one.difference_db ? other : one));
    const polished = (/** @type {any} */ start) => FINER_STEPS.reduce((place, step) => {
      for (;;) {
        const better = best([place, at(place.tone + step, place.peak), at(place.tone - step, place.peak)]);
        if (better === place) return place;
        place = better;
      }
    }, start);
    return best(peaks.flatMap((peak) => Array.from({ length: FULL_TURN / COARSE_TONE + 1 }, (_, i) => at(i * COARSE_TONE, peak))
      .sort((one, other) => one.difference_db - other.difference_db).slice(0, BEST_COARSE).map(polished)));
  }

  /**
   * The steepest step of the tone knob, in octaves of the corner, and where it begins; null where there is no corner.
   * @param {(tone: number) => number | null} cornerAt
   */
  function steepest(cornerAt) {
    const corners = Array.from({ length: 21 }, (_, i) => cornerAt(i / 2));
    const steps = corners.slice(0, -2).map((one, i) => {
      const other = corners[i + 2];
      return one && other ? Math.abs(Math.log2(other / one)) : -1;
    });
    const most = Math.max(...steps);
    return most < 0 ? null : { octaves: most, at: steps.indexOf(most) / 2 };
  }

  globalThis.sublatch ??= {};
  sublatch.soundBands = { CENTRES_HZ, CENTRES_BY_THIRDS_HZ, COUNT, NOMINAL_HZ, cellPowers, thirds, thirdLevels, balance, above, difference, nearest, steepest };
})();
