'use strict';

// @ts-check
// The complex response of elements at any frequencies, by solving the nodal equations there; corner and peak as
// `sublatch response` tells them (circuit/networks/corners.py).
(() => {
  const CORNER_POWER = 0.5;
  const [LOWEST_HZ, HIGHEST_HZ, POINTS] = [10, 20e3, 161];
  const LEAST_PEAK_DB = 0.001; // a rise of less is no peak
  const LEAST_DC_POWER = 1e-10; // against the highest audible gain: less is none at zero frequency
  const NARROWINGS = 40;
  const BANDWIDTH_COUNTS = 0.01; // change of the filter's response from which on the op-amps' bandwidth counts
  const LEAST_SHARE = 0.1; // of the largest gain, below which a change is not heard

  /** @type {(low: number, high: number, count: number) => number[]} */
  function geometric(low, high, count) {
    return Array.from({ length: count }, (_, i) => low * (high / low) ** (i / (count - 1)));
  }

  const GRID_HZ = geometric(LOWEST_HZ, HIGHEST_HZ, POINTS);

  /**
   * The gain from each source to a node.
   * @param {Part[]} elements
   * @param {string} output
   * @returns {(hertz: number) => Float64Array} octave's real and imaginary part, then the direct signal's
   */
  function gains(elements, output) {
    const source = sublatch.network.SOURCES.indexOf(output);
    if (source >= 0) return () => new Float64Array(4).fill(1, 2 * source, 2 * source + 1);
    const { index, size, conductance, slow, driven } = sublatch.network.equations(elements);
    const farads = new Float64Array(size * size);
    for (const { sort, nodes, value } of elements) {
      if (sort !== 'capacitor') continue;
      const [a, b] = nodes.map((node) => index.get(node));
      for (const [row, column, sign] of [[a, a, 1], [b, b, 1], [a, b, -1], [b, a, -1]]) {
        if (row !== undefined && column !== undefined) farads[row * size + column] += sign * value;
      }
    }
    for (const [row, column, seconds] of slow) farads[row * size + column] -= seconds;
    const at = index.get(output) * 2;
    return (hertz) => {
      const omega = 2 * Math.PI * hertz;
      const [re, im] = [conductance.slice(), farads.map((value) => omega * value)];
      const [bRe, bIm] = [new Float64Array(size * 2), new Float64Array(size * 2)];
      driven.forEach((row, i) => { bRe[row * 2 + i] = 1; });
      sublatch.matrices.solveComplex(re, im, bRe, bIm, size, 2);
      return Float64Array.of(bRe[at], bIm[at], bRe[at + 1], bIm[at + 1]);
    };
  }

  /**
   * The same of a whole circuit, from its few states.
   * @param {StateSpace} space
   * @returns {(hertz: number) => Float64Array}
   */
  function spaceGains({ names: { length: r }, a, b, c, d }) {
    return (hertz) => {
      const [re, im, x, y] = [a.map((value) => -value), new Float64Array(r * r), b.slice(), new Float64Array(r * 2)];
      for (let i = 0; i < r; i += 1) im[i * r + i] = 2 * Math.PI * hertz;
      sublatch.matrices.solveComplex(re, im, x, y, r, 2);
      const gain = Float64Array.of(d[0], 0, d[1], 0);
      for (let i = 0; i < r; i += 1) {
        gain[0] += c[i] * x[2 * i];
        gain[1] += c[i] * y[2 * i];
        gain[2] += c[i] * x[2 * i + 1];
        gain[3] += c[i] * y[2 * i + 1];
      }
      return gain;
    };
  }

  /**
   * A setting's elements, the filter's op-amps of finite bandwidth where that counts (circuit/networks/bandwidth.py).
   * @param {Setting} setting
   * @returns {Part[]}
   */
  function withBandwidth(setting) {
    const ideal = sublatch.elements.elements(setting);
    const { bandwidth_hz: bandwidth, filtered } = setting.circuit;
    if (!bandwidth) return ideal;
    const slower = ideal.map((each) => (
      each.sort === 'op-amp' && each.name.startsWith('filter.') ? { ...each, bandwidth_hz: bandwidth } : each));
    const [own, changed] = [ideal, slower].map((all) => gains(all.filter(({ name }) => name.startsWith('filter.')), filtered));
    const both = geometric(20, 20e3, 61).map((hertz) => [own(hertz), changed(hertz)]);
    const largest = Math.max(...both.map(([one]) => Math.hypot(one[0], one[1])));
    const counts = both.some(([one, other]) => {
      const size = Math.hypot(one[0], one[1]);
      return size >= LEAST_SHARE * largest && Math.hypot(other[0] - one[0], other[1] - one[1]) > BANDWIDTH_COUNTS * size;
    });
    return counts ? slower : ideal;
  }

  /**
   * Curve, corner and peak of the output filter, or of the direct signal's own.
   * @param {Part[]} all a setting's elements
   * @param {string} output the filter's output node
   * @param {'filter.' | 'mix.direct_filter.'} prefix
   */
  function figures(all, output, prefix = 'filter.') {
    const gain = gains(all.filter(({ name }) => name.startsWith(prefix)), output);
    const first = prefix === 'filter.' ? 0 : 2;
    const power = (/** @type {number} */ hertz) => { const g = gain(hertz); return g[first] ** 2 + g[first + 1] ** 2; };
    const powers = GRID_HZ.map(power);
    const highest = Math.max(...powers);
    const atZero = power(0);
    const passes = atZero > highest * LEAST_DC_POWER;
    const reference = passes ? atZero : highest;
    const above = powers.map((each) => each > CORNER_POWER * reference);
    const last = above.lastIndexOf(true);
    const crossing = (/** @type {number} */ i, /** @type {number} */ j) => crossed(power, CORNER_POWER * reference, GRID_HZ[i], GRID_HZ[j]);
    const corner = last >= 0 && last < POINTS - 1 ? crossing(last, last + 1) : null;
    const low = above.indexOf(true);
    const peak = passes ? top(power, powers, reference) : { peak_db: 0, peak_hz: null };
    return {
      frequency_hz: GRID_HZ,
      gain_db: powers.map((each) => 10 * Math.log10(Math.max(each, 1e-30))),
      reference_db: 10 * Math.log10(reference),
      low_corner_hz: !passes && low > 0 ? crossing(low, low - 1) : null,
      corner_hz: corner,
      ...peak,
    };
  }

  /** @type {(power: (hertz: number) => number, threshold: number, above: number, below: number) => number} */
  function crossed(power, threshold, above, below) {
    let [inside, outside] = [above, below];
    for (let i = 0; i < NARROWINGS; i += 1) {
      const middle = Math.sqrt(inside * outside);
      if (power(middle) > threshold) inside = middle;
      else outside = middle;
    }
    return Math.sqrt(inside * outside);
  }

  /** @type {(power: (hertz: number) => number, powers: number[], reference: number) => {peak_db: number, peak_hz: number | null}} */
  function top(power, powers, reference) {
    const at = powers.indexOf(Math.max(...powers));
    let [low, high] = [GRID_HZ[Math.max(at - 1, 0)], GRID_HZ[Math.min(at + 1, POINTS - 1)]];
    for (let i = 0; i < NARROWINGS; i += 1) {
      const [left, right] = [low * (high / low) ** (1 / 3), low * (high / low) ** (2 / 3)];
      if (power(left) > power(right)) high = right;
      else low = left;
    }
    const peakHz = Math.sqrt(low * high);
    const peakDb = 10 * Math.log10(power(peakHz) / reference);
    return peakDb >= LEAST_PEAK_DB ? { peak_db: peakDb, peak_hz: peakHz } : { peak_db: 0, peak_hz: null };
  }

  globalThis.sublatch ??= {};
  sublatch.response = { gains, spaceGains, elements: withBandwidth, figures, geometric, GRID_HZ };
})();
