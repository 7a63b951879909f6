'use strict';

// @ts-check
// Where a network rests when its op-amps are off, as circuit/networks/idle.py has it: offsets and bias currents are
// constant, so that the nodal equations hold for them with capacitors that let almost nothing through.
(() => {
  const STILL_RAD_S = 1e-7; // as good as no frequency; a node that only capacitors reach still has an answer there

  /**
   * The voltage at which a node rests, from the bias.
   * @param {Part[]} elements
   * @param {Record<string, {offset_v: number, bias_a: number}>} off how far each op-amp is off, by its name
   * @param {string} output
   * @returns {number} volts; 0 where nothing is off
   */
  function volts(elements, off, output) {
    const still = elements.map((each) => (each.sort === 'capacitor'
      ? Object.assign({ ...each }, { sort: 'resistor', value: 1 / (STILL_RAD_S * /** @type {number} */ (each.value)) }) : each));
    const { index, size, conductance } = sublatch.network.equations(/** @type {Part[]} */ (still));
    const found = new Float64Array(size);
    elements.filter(({ sort }) => sort === 'op-amp').forEach(({ name, nodes: [plus, minus] }, i) => {
      const { offset_v: offset, bias_a: bias } = off[name] ?? { offset_v: 0, bias_a: 0 };
      found[index.size + i] = -offset;
      for (const node of [plus, minus]) if (index.has(node)) found[/** @type {number} */ (index.get(node))] -= bias;
    });
    if (found.every((each) => each === 0)) return 0;
    if (!sublatch.matrices.solve(conductance, found, size, 1)) throw new Error('this network fixes not every voltage');
    return found[/** @type {number} */ (index.get(output))];
  }

  globalThis.sublatch ??= {};
  sublatch.idle = { volts };
})();
