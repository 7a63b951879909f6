'use strict';

// @ts-check
// From a wish to parts that are sold: the search behind `sublatch choose` for a second-order filter of one op-amp, without
// start resistors (parts/choose/swept_search.py), equal in its sets. How many boards come out right, only `choose` tells.
(() => {
  const [CORNER_MISS, APART_MISS, CURVE_MISS_DB] = [0.10, 0.05, 0.5];
  const [LEAST_FARAD, MOST_FARAD] = [220e-12, 1e-6];
  const [LEAST_END_OHM, MOST_END_OHM] = [1e3, 1e6];
  const POTS_OHM = [4.7e3, 5e3, 10e3, 20e3, 22e3, 25e3, 47e3, 50e3, 100e3, 200e3, 220e3, 250e3, 470e3, 500e3, 1e6];
  const TAPERS = ['linear', 'reverse-log', 'log'];
  const MIDPOINT = 0.15;
  const HANDY_POT_OHM = 50e3;
  const STEPS = 120;
  const SAME = 1e-9;
  const WIDER = [1, 2, 4, 8, 16, 32];

  /** @typedef {{farad: [number, number], corner: number, miss: number}} Pair corner in hertz at 1 Ω */

  /**
   * @typedef {object} Found
   * @property {number} pot_ohm
   * @property {number} end_ohm
   * @property {[number, number]} flat_farad from the op-amp's input to ground, and from its output back
   * @property {[number, number]} peaked_farad
   * @property {number[]} misses corners flat at 0 and 10, peaked likewise, their distance, curve flat and peaked
   */

  /** Preferred values from one to another. @type {(low: number, high: number, series: number[]) => number[]} */
  function between(low, high, series) {
    const [first, last] = [Math.floor(Math.log10(low)) - 1, Math.ceil(Math.log10(high))];
    const decades = Array.from({ length: last - first + 1 }, (_, i) => first + i);
    return decades.flatMap((power) => series.map((member) => Number(`${member}e${power}`)))
      .filter((value) => value >= low * (1 - SAME) && value <= high * (1 + SAME));
  }

  /** Squared gain of a second-order low-pass at so many times its natural frequency. @type {(x: number, q: number) => number} */
  const power = (x, q) => 1 / ((1 - x * x) ** 2 + (x / q) ** 2);

  /** Its corner in units of that. @type {(q: number) => number} */
  function cornerOf(q) {
    const u = 1 - 0.5 / (q * q);
    return Math.sqrt(u + Math.sqrt(u * u + 1));
  }

  /** @type {(peak: number) => number} */
  function qOf(peak) {
    const ratio = 10 ** (peak / 10);
    return Math.sqrt((ratio + Math.sqrt(ratio * ratio - ratio)) / 2);
  }

  /** How far a curve is off at most, both stretched to one corner, in dB. @type {(q: number, wanted: number) => number} */
  function departure(q, wanted) {
    const [own, other] = [cornerOf(q), cornerOf(wanted)];
    let most = 0;
    for (let i = 1; i <= STEPS; i += 1) {
      most = Math.max(most, Math.abs(10 * Math.log10(power(own * i / STEPS, q) / power(other * i / STEPS, wanted))));
    }
    return most;
  }

  /** Pairs of capacitors with a wanted peak, by rising corner. @type {(peak: number, mostMiss: number) => Pair[]} */
  function pairs(peak, mostMiss) {
    const values = between(LEAST_FARAD, MOST_FARAD, sublatch.knob.E12);
    /** @type {Pair[]} */
    const near = [];
    for (const ground of values) {
      for (const feedback of values) {
        const q = Math.sqrt(feedback / ground) / 2; // Texas Instruments SLOA024B, unity gain, equal resistances
        const miss = departure(q, qOf(peak)) / CURVE_MISS_DB;
        if (miss > mostMiss) continue;
        near.push({ farad: [ground, feedback], corner: cornerOf(q) / (2 * Math.PI * Math.sqrt(ground * feedback)), miss });
      }
    }
    return near.sort((one, other) => one.corner - other.corner);
  }

  /** @type {(pot: number, ratio: number, off: number) => number[]} */
  function endResistors(pot, ratio, off) {
    const [least, most] = off < 1 ? [ratio * (1 - off) / (1 + off), ratio * (1 + off) / (1 - off)] : [1, Infinity];
    const low = Math.max(pot / (most - 1), LEAST_END_OHM);
    const high = Math.min(least > 1 ? pot / (least - 1) : Infinity, MOST_END_OHM);
    return between(LEAST_END_OHM, MOST_END_OHM, sublatch.knob.E24)
      .filter((value) => value >= low * (1 - SAME) && value <= high * (1 + SAME));
  }

  /**
   * All sets of parts without a miss above so many units, the best first.
   * @param {Wish} wish
   * @param {number} mostMiss
   * @returns {Found[]}
   */
  function sets({ low_hz: low, high_hz: high, peak_db: peak }, mostMiss) {
    const [flats, peaks] = [pairs(0, mostMiss), pairs(peak, mostMiss)];
    const off = CORNER_MISS * mostMiss;
    /** @type {Found[]} */
    const found = [];
    for (const pot of POTS_OHM) {
      for (const end of endResistors(pot, high / low, off)) {
        const both = [low * (pot + end), high * end];
        const inside = (/** @type {Pair} */ { corner }) => (
          corner >= (1 - off) * Math.max(...both) && corner <= (1 + off) * Math.min(...both));
        const misses = (/** @type {Pair} */ { corner }) => both.map((wanted) => Math.abs(corner / wanted - 1) / CORNER_MISS);
        const peaked = peaks.filter(inside);
        for (const one of flats.filter(inside)) {
          for (const other of peaked) {
            const apart = Math.abs(other.corner / one.corner - 1) / APART_MISS;
            if (apart > mostMiss) continue;
            found.push({
              pot_ohm: pot, end_ohm: end, flat_farad: one.farad, peaked_farad: other.farad,
              misses: [...misses(one), ...misses(other), apart, one.miss, other.miss],
            });
          }
        }
      }
    }
    return sorted(found);
  }

  /** @type {(found: Found[]) => Found[]} */
  function sorted(found) {
    const rounded = (/** @type {number} */ value) => Math.round(value * 1e6) / 1e6;
    const ranks = new Map(found.map((each) => [each, [
      rounded(Math.max(...each.misses)), rounded(each.misses.reduce((sum, miss) => sum + miss, 0)),
      rounded(Math.abs(Math.log(each.pot_ohm / HANDY_POT_OHM))), each.pot_ohm,
    ]]));
    return found.sort((one, other) => {
      const [a, b] = [ranks.get(one) ?? [], ranks.get(other) ?? []];
      const at = a.findIndex((value, i) => value !== b[i]);
      return at < 0 ? 0 : a[at] - b[at];
    });
  }

  /** The best set for each pot, the best of all first; wider misses are let through until there is one. @param {Wish} wish */
  function nearest(wish) {
    for (const mostMiss of WIDER) {
      const best = new Map();
      for (const each of sets(wish, mostMiss)) if (!best.has(each.pot_ohm)) best.set(each.pot_ohm, each);
      if (best.size) return [...best.values()];
    }
    return [];
  }

  /** The taper whose steepest step covers the fewest octaves. @type {(pot: number, end: number) => string} */
  function bestTaper(pot, end) {
    const steepest = (/** @type {string} */ taper) => {
      const left = Array.from({ length: 21 }, (_, i) => (
        end + sublatch.knob.resistances({ value: pot, taper, midpoint: MIDPOINT }, i / 2)[1]));
      return Math.max(...left.slice(0, -2).map((ohm, i) => Math.log2(ohm / left[i + 2])));
    };
    return TAPERS.reduce((best, taper) => (steepest(taper) < steepest(best) ? taper : best));
  }

  /**
   * A circuit with a set of parts in place of its filter.
   * @param {any} own the circuit, as Python tells it
   * @param {any} swept a filter of this kind, likewise
   * @param {Found} found
   */
  function circuit(own, swept, { pot_ohm: pot, end_ohm: end, flat_farad: flat, peaked_farad: peaked }) {
    const values = {
      'filter.end_resistor': end,
      'filter.ground_capacitor.flat': flat[0], 'filter.feedback_capacitor.flat': flat[1],
      'filter.ground_capacitor.peaked': peaked[0], 'filter.feedback_capacitor.peaked': peaked[1],
    };
    const pots = { 'filter.pot': { value: pot, taper: bestTaper(pot, end), midpoint: MIDPOINT } };
    const words = { ...own.words, ...swept.words };
    return { ...sublatch.wish.replaced(own, { ...swept, values, pots }), words, bandwidth_hz: null };
  }

  globalThis.sublatch ??= {};
  sublatch.find = { sets, nearest, bestTaper, circuit };
})();
