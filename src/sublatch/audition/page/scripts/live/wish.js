'use strict';

// @ts-check
// A filter before there are parts: where it shall begin and end, and how high it shall peak. It is a first-order
// high-pass and a second-order low-pass, ideal, written as parts so that all that is done with a filter is done with it.
(() => {
  const FARAD = 100e-9; // any will do: only products with resistances count

  /**
   * Natural frequency in hertz and Q of the low-pass.
   *
   * With ζ = 1 / 2Q its peak is M = 1 / (2ζ √(1 − ζ²)), and it is at half power at f0 √(1 − 2ζ² + √((1 − 2ζ²)² + 1)):
   * textbook second-order low-pass.
   * @param {Wish} wish
   */
  function lowPass({ high_hz: high, peak_db: peak }) {
    const flatness = Math.sqrt(1 - 10 ** (-Math.max(peak, 0) / 10));
    const square = (1 - flatness) / 2; // ζ²
    const ratio = Math.sqrt(1 - 2 * square + Math.sqrt((1 - 2 * square) ** 2 + 1));
    return { natural_hz: high / ratio, q: 1 / (2 * Math.sqrt(square)) };
  }

  /**
   * A circuit with this filter in place of its own; its tone knob and peak switch then do nothing.
   * @param {any} own the circuit, as Python tells it
   * @param {Wish} wish
   */
  function circuit(own, wish) {
    const { natural_hz: natural, q } = lowPass(wish);
    const [joint, out] = ['filter.wish.joint', 'filter.wish.out'];
    const resistor = 1 / (2 * Math.PI * natural * FARAD); // Sallen-Key of unity gain: C1 / C2 = 4 Q²
    const values = {
      'wish.first': resistor, 'wish.second': resistor,
      'wish.ground': FARAD / (2 * q), 'wish.feedback': FARAD * 2 * q,
      'wish.coupling': FARAD, 'wish.bleed': 1 / (2 * Math.PI * (wish.low_hz || 1) * FARAD),
    };
    const part = (sort, name, nodes, value) => ({ sort, name: `filter.${name}`, nodes, value });
    const from = wish.low_hz > 0 ? 'filter.wish.passed' : 'octave';
    const highPass = wish.low_hz > 0 ? [
      part('capacitor', 'wish.coupling', ['octave', 'filter.wish.coupled'], 'wish.coupling'),
      part('resistor', 'wish.bleed', ['filter.wish.coupled', 'ground'], 'wish.bleed'),
      part('op-amp', 'wish.passing', ['filter.wish.coupled', from, from]),
    ] : [];
    const filter = [
      ...highPass,
      part('resistor', 'wish.first', [from, joint], 'wish.first'),
      part('resistor', 'wish.second', [joint, 'filter.wish.plus'], 'wish.second'),
      part('capacitor', 'wish.ground', ['filter.wish.plus', 'ground'], 'wish.ground'),
      part('capacitor', 'wish.feedback', [joint, out], 'wish.feedback'),
      part('op-amp', 'wish.follower', ['filter.wish.plus', out, out]),
    ];
    const rest = own.parts.filter(({ name }) => !name.startsWith('filter.'));
    const moved = (node) => (node === own.filtered ? out : node);
    return {
      ...own,
      parts: [...filter, ...rest.map((each) => ({ ...each, nodes: each.nodes.map(moved) }))],
      values: { ...own.values, ...values },
      output: moved(own.output),
      filtered: out,
      bandwidth_hz: null,
    };
  }

  globalThis.sublatch ??= {};
  sublatch.wish = { lowPass, circuit };
})();
