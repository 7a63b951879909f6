'use strict';

// @ts-check
// What the knobs tell, in words, and where a slider stands for a value.
(() => {
  const ENDS_HZ = [30, 6000]; // at the two ends of a slider, which runs evenly in pitch

  /** @type {(value: number, digits?: number) => string} */
  const number = (value, digits = 1) => value.toFixed(digits).replace(/^-(?=0\.?0*$)/, '').replace('-', '−'); // no minus before a zero
  /** @type {(share: number) => string} */
  const percent = (share) => `${share > 0 && share < 0.0005 ? '< 0.1' : number(100 * share)} %`;

  /** @type {(name: string, place: number) => number} */
  function wishAt(name, place) {
    const [low, high] = ENDS_HZ;
    return name.endsWith('_hz') ? low * (high / low) ** place : place;
  }

  /** @type {(name: string, value: number) => number} */
  function placeOf(name, value) {
    const [low, high] = ENDS_HZ;
    return name.endsWith('_hz') ? Math.log(value / low) / Math.log(high / low) : value;
  }

  // How far a set of parts is from the wish: the units of find.js in words.
  /** @type {(misses: number[]) => string} */
  function offBy(misses) {
    const corners = 10 * Math.max(...misses.slice(0, 4));
    return `corners within ${number(corners)} %, curve within ${number(0.5 * Math.max(...misses.slice(5)))} dB`;
  }

  /** A set of parts that was found. @type {(found: any) => string} */
  function parts({ pot_ohm: pot, end_ohm: end, flat_farad: flat, peaked_farad: peaked }) {
    const ohms = (/** @type {number} */ value) => sublatch.livePartsList.inWords(value, 'Ω');
    const farads = (/** @type {number[]} */ pair) => pair.map((value) => sublatch.livePartsList.inWords(value, 'F')).join(' and ');
    const taper = sublatch.find.bestTaper(pot, end);
    return `pot ${ohms(pot)} ${taper}, end resistors ${ohms(end)}, flat ${farads(flat)}, peaked ${farads(peaked)}`;
  }

  /** The same with what it misses. @type {(found: any) => string} */
  function set(found) {
    return `${parts(found)}: ${offBy(found.misses)} `;
  }

  /** @type {(response: any) => string} */
  function filter({ corner_hz: corner, low_corner_hz: low, peak_db: peak, peak_hz: at }) {
    const told = [
      low === null ? null : `low end ${number(low, 0)} Hz`,
      corner === null ? 'no corner below 20 kHz' : `corner ${number(corner, 0)} Hz`,
      peak ? `peak ${number(peak)} dB at ${number(at, 0)} Hz` : 'no peak',
    ];
    return `Output filter: ${told.filter(Boolean).join(', ')}.`;
  }

  /** Share of time at the limits, at this moment and where it is as loud as the bypassed take. @type {(figures: any) => string} */
  function limits({ overload, settled }) {
    const unity = settled?.unity ?? null;
    const now = `Limits: now ${percent(overload)} of the time`;
    return unity === null ? `${now}.` : `${now}; as loud as bypassed, with volume at ${number(unity)}, ${percent(settled.at_limit_share_unity ?? 0)}.`;
  }

  /** @type {(steepest: {octaves: number, at: number} | null) => string} */
  function steps(steepest) {
    return steepest ? `Tone: steepest step ${steepest.octaves.toFixed(2)} octaves, from ${steepest.at} to ${steepest.at + 1}.` : '';
  }

  /** Where a bass stands above a bed, as on the list of candidates (page/wording.py). @type {(bands: number[]) => string} */
  function above(bands) {
    const all = sublatch.soundBands.NOMINAL_HZ;
    /** @type {number[][]} */
    const runs = [];
    for (const hertz of bands) {
      const run = runs[runs.length - 1];
      if (run && all.indexOf(hertz) === all.indexOf(run[run.length - 1]) + 1) run.push(hertz);
      else runs.push([hertz]);
    }
    const told = runs.map((run) => (run.length === 1 ? `at ${run[0]}\u00a0Hz` : `from ${run[0]}\u00a0Hz to ${run[run.length - 1]}\u00a0Hz`));
    const last = told.pop();
    return last ? `above the bed ${told.length ? `${told.join(', ')} and ${last}` : last}` : 'nowhere above the bed';
  }

  /** @type {(name: string, found: {tone: number, peak: string | null, difference_db: number}) => string} */
  function nearest(name, { tone, peak, difference_db: difference }) {
    return `Nearest to ${name}: tone ${number(tone)}${peak ? ` ${peak}` : ''}, ${number(difference)} dB off`;
  }

  /** A filter of which only this is said. @type {(wish: Wish) => string} */
  function wished({ low_hz: low, high_hz: high, peak_db: peak }) {
    return `filter by wish, ${number(low, 0)} to ${number(high, 0)}\u00a0Hz, peak ${number(peak)}\u00a0dB`;
  }

  globalThis.sublatch ??= {};
  sublatch.panelWords = { number, wishAt, placeOf, parts, set, wished, filter, limits, steps, above, nearest };
})();
