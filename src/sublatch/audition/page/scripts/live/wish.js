'use strict';

// @ts-check
// A filter before there are parts: from where to where the tone knob shall sweep it, and how high it shall peak. It is an
// ideal second-order low-pass, written as parts so that all that is done with a filter is done with it.
(() => {
  const FARAD = 100e-9; // any will do: only products with resistances count
  const FULL_TURN = 10;
  /** Where controls stand that the circuit itself does not have. */
  const CONTROLS = { tone: 5, peak: 'peaked' };

  /**
   * Natural frequency in hertz and Q of a low-pass with a corner, 3.01 dB below its gain at 0 Hz, and a peak above that.
   *
   * With ζ = 1 / 2Q its peak is M = 1 / (2ζ √(1 − ζ²)), and it is at half power at f0 √(1 − 2ζ² + √((1 − 2ζ²)² + 1)):
   * textbook second-order low-pass; 0 dB is the flattest without a peak.
   * @param {number} corner in hertz
   * @param {number} peak in dB
   */
  function lowPass(corner, peak) {
    const square = (1 - Math.sqrt(1 - 10 ** (-Math.max(peak, 0) / 10))) / 2; // ζ²
    const ratio = Math.sqrt(1 - 2 * square + Math.sqrt((1 - 2 * square) ** 2 + 1));
    return { natural_hz: corner / ratio, q: 1 / (2 * Math.sqrt(square)) };
  }

  /**
   * The controls with those that a wished filter has besides.
   * @param {Record<string, any>} controls
   * @returns {Record<string, any>}
   */
  function controlled(controls) {
    return { ...controls, tone: controls.tone ?? CONTROLS.tone, peak: controls.peak ?? CONTROLS.peak };
  }

  /**
   * Corner and peak at a position of the controls: the knob covers as many octaves everywhere.
   * @param {Wish} wish
   * @param {Record<string, any>} controls
   */
  function at({ low_hz: low, high_hz: high, peak_db: peak }, controls) {
    const { tone, peak: position } = controlled(controls);
    return { corner_hz: low * (high / low) ** (tone / FULL_TURN), peak_db: position === 'flat' ? 0 : peak };
  }

  /** Settings but for those of the filter's parts. @type {(settings: Record<string, any>) => Record<string, any>} */
  function unfiltered(settings) {
    return Object.fromEntries(Object.entries(settings).filter(([setting]) => !setting.startsWith('filter.')));
  }

  /**
   * A circuit with other parts in place of its filter's.
   * @param {any} own the circuit, as Python tells it
   * @param {{parts: any[], values: object, pots?: object, filtered: string}} filter
   */
  function replaced(own, { parts, values, pots = {}, filtered }) {
    const rest = own.parts.filter((/** @type {Part} */ { name }) => !name.startsWith('filter.'));
    const moved = (/** @type {string} */ node) => (node === own.filtered ? filtered : node);
    return {
      ...own,
      parts: [...parts, ...rest.map((/** @type {Part} */ each) => ({ ...each, nodes: each.nodes.map(moved) }))],
      values: { ...unfiltered(own.values), ...values },
      pots: { ...unfiltered(own.pots), ...pots },
      filtered,
    };
  }

  /**
   * A circuit with this filter in place of its own, at a position of the controls.
   * @param {any} own the circuit, as Python tells it
   * @param {Wish} wish
   * @param {Record<string, any>} controls
   */
  function circuit(own, wish, controls) {
    const { corner_hz: corner, peak_db: peak } = at(wish, controls);
    const { natural_hz: natural, q } = lowPass(corner, peak);
    const [joint, plus, out] = ['filter.wish.joint', 'filter.wish.plus', 'filter.wish.out'];
    const resistor = 1 / (2 * Math.PI * natural * FARAD); // Sallen-Key of unity gain: C1 / C2 = 4 Q²
    const values = {
      'wish.first': resistor, 'wish.second': resistor, 'wish.ground': FARAD / (2 * q), 'wish.feedback': FARAD * 2 * q,
    };
    const part = (/** @type {string} */ sort, /** @type {string} */ name, /** @type {string[]} */ nodes) => (
      { sort, name: `filter.${name}`, nodes, value: name });
    const parts = [
      part('resistor', 'wish.first', ['octave', joint]),
      part('resistor', 'wish.second', [joint, plus]),
      part('capacitor', 'wish.ground', [plus, 'ground']),
      part('capacitor', 'wish.feedback', [joint, out]),
      part('op-amp', 'wish.follower', [plus, out, out]),
    ];
    return { ...replaced(own, { parts, values, filtered: out }), bandwidth_hz: null };
  }

  globalThis.sublatch ??= {};
  sublatch.wish = { lowPass, controlled, at, unfiltered, replaced, circuit };
})();
