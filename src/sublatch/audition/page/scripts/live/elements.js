'use strict';

// @ts-check
// A circuit's parts at one setting as elements of a network: resistors, capacitors and op-amps with numbers.
(() => {
  const LEAST_OHM = 1e-3; // what a wiper at the end of its track still has

  /**
   * The elements of a circuit at a setting, op-amps ideal.
   * @param {Setting} setting
   * @returns {Part[]}
   */
  function elements({ circuit, controls, values = {} }) {
    const valueOf = (/** @type {string} */ name) => values[name] ?? circuit.values[name];
    const potOf = (/** @type {any} */ part) => {
      const pot = circuit.pots[part.pot];
      return sublatch.knob.resistances({ ...pot, value: values[part.pot] ?? pot.value }, controls[part.control]);
    };
    /** @type {Part[]} */
    const made = [];
    const add = (/** @type {Part['sort']} */ sort, /** @type {string} */ name, /** @type {string[]} */ nodes, /** @type {number} */ value) =>
      made.push({ sort, name, nodes, value });
    for (const part of circuit.parts) {
      const { sort, name, nodes } = part;
      if (sort === 'op-amp') made.push({ sort, name, nodes });
      else if (sort === 'resistor') add(sort, name, nodes, valueOf(part.value));
      else if (sort === 'capacitor') add(sort, name, nodes, valueOf(part.value ?? part[controls.peak]));
      else if (sort === 'divider') addDivider(add, part, potOf(part), part.trim ? valueOf(part.trim) : 0);
      else addRheostat(add, part, potOf(part)[1], valueOf(part.end), part.start ? valueOf(part.start) : null);
    }
    return made;
  }

  /** @type {(add: Function, part: any, resistances: [number, number], trim: number) => void} */
  function addDivider(add, { name, nodes: [top, wiper, bottom] }, [lower, upper], trim) {
    add('resistor', `${name}.upper`, [top, wiper], Math.max(upper, LEAST_OHM) + trim);
    add('resistor', `${name}.lower`, [wiper, bottom], Math.max(lower, LEAST_OHM));
  }

  // A gang of the tone pot with its resistor in series, and perhaps one across; at the end of its travel a wire.
  /** @type {(add: Function, part: any, gang: number, end: number, start: number | null) => void} */
  function addRheostat(add, { name, nodes: [first, joint, last] }, gang, end, start) {
    if (start === null) {
      add('resistor', name, [first, last], end + gang);
      return;
    }
    if (gang > 0) {
      add('resistor', `${name}.gang`, [first, joint], Math.max(gang, LEAST_OHM));
      add('resistor', `${name}.start`, [first, joint], start);
    }
    add('resistor', name, [gang > 0 ? joint : first, last], end);
  }

  globalThis.sublatch ??= {};
  sublatch.elements = { elements };
})();
