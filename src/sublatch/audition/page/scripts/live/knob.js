'use strict';

// @ts-check
// Pots and values that are sold: the same laws as in Python (circuit/components/pots.py and preferred.py).
(() => {
  const FULL_TURN = 10;

  // E24 of IEC 60063 (edition from memory); E12, E6 and E3 are every second, fourth and eighth of it.
  const E24 = [
    1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0,
    3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1,
  ];
  const E12 = E24.filter((_, index) => index % 2 === 0);
  const SAME = 1e-6; // two values nearer than this, relatively, are the same part

  /**
   * The share of a pot's track between its anticlockwise end and the wiper.
   * @param {{taper: string, midpoint: number}} pot
   * @param {number} position knob position, 0 to 10
   * @returns {number} 0 to 1
   */
  function share({ taper, midpoint }, position) {
    const turn = position / FULL_TURN;
    if (taper === 'linear') return turn;
    const rate = 2 * Math.log1p((1 - 2 * midpoint) / midpoint);
    const law = (/** @type {number} */ x) => Math.exp((x - 1) * rate) * Math.expm1(-x * rate) / Math.expm1(-rate);
    return taper === 'log' ? law(turn) : 1 - law(1 - turn);
  }

  /**
   * The resistances below and above the wiper, in ohms.
   * @param {{value: number, taper: string, midpoint: number}} pot
   * @param {number} position knob position, 0 to 10
   * @returns {[number, number]}
   */
  function resistances(pot, position) {
    const lower = pot.value * share(pot, position);
    return [lower, pot.value - lower];
  }

  /**
   * The next value of a series above or below a value, which need not be in it.
   * @param {number} value
   * @param {number} steps so many values up, or down where below 0
   * @param {number[]} series one decade from 1
   * @returns {number}
   */
  function stepped(value, steps, series) {
    let at = value;
    for (let i = 0; i < Math.abs(steps); i += 1) at = next(at, Math.sign(steps), series);
    return at;
  }

  /** @type {(value: number, direction: number, series: number[]) => number} */
  function next(value, direction, series) {
    const decade = Math.floor(Math.log10(value) + SAME);
    const all = [decade - 1, decade, decade + 1].flatMap((power) => series.map((member) => rounded(member, power)));
    const beyond = all.filter((each) => direction * (each / value - 1) > SAME);
    return direction > 0 ? Math.min(...beyond) : Math.max(...beyond);
  }

  /** @type {(member: number, power: number) => number} */
  function rounded(member, power) {
    return Number(`${member}e${power}`);
  }

  globalThis.sublatch ??= {};
  sublatch.knob = { share, resistances, stepped, E24, E12 };
})();
