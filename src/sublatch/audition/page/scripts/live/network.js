'use strict';

// @ts-check
// A network as state space: x' = A x + B u, y = C x + D u, with the voltages of its capacitors as the state; and its step
// from one sample to the next, exact for an input that is a polynomial through samples and half samples.
//
// From the nodal equations G v + C v' = b u, with each capacitor as a voltage source of its own state; C.-W. Ho and
// others, "The modified nodal approach to network analysis", 1975 (from memory), as in circuit/networks/solver.py.
(() => {
  const GROUND = 'ground';
  const SOURCES = ['octave', 'direct'];
  const SERIES_S = 1e-10; // time constant in series with each capacitor, without which one across a source has no current
  const { GRID: ORDERS, FROM, network: { now: NOW, points: POINTS, reach: REACH, taps: TAPS } } = sublatch.tables;

  /**
   * @typedef {object} Equations
   * @property {Map<string, number>} index row of each node but ground
   * @property {number} size unknowns: nodes, currents of op-amps, currents of sources
   * @property {Float64Array} conductance size × size
   * @property {[number, number, number][]} slow row, column and 1/ω of op-amps of finite bandwidth
   * @property {number[]} driven rows of the sources
   */

  /**
   * @param {Part[]} elements
   * @returns {Equations}
   */
  function equations(elements) {
    /** @type {Map<string, number>} */
    const index = new Map();
    for (const node of [...SOURCES, ...elements.flatMap(({ nodes }) => nodes)]) {
      if (node !== GROUND && !index.has(node)) index.set(node, index.size);
    }
    const amplifiers = elements.filter(({ sort }) => sort === 'op-amp');
    const size = index.size + amplifiers.length + SOURCES.length;
    const conductance = new Float64Array(size * size);
    const put = (/** @type {number | undefined} */ row, /** @type {number | undefined} */ column, /** @type {number} */ value) => {
      if (row !== undefined && column !== undefined) conductance[row * size + column] += value;
    };
    for (const { sort, nodes, value } of elements) {
      if (sort !== 'resistor') continue;
      const [a, b] = nodes.map((node) => index.get(node));
      const siemens = 1 / /** @type {number} */ (value);
      put(a, a, siemens);
      put(b, b, siemens);
      put(a, b, -siemens);
      put(b, a, -siemens);
    }
    /** @type {[number, number, number][]} */
    const slow = [];
    amplifiers.forEach(({ nodes, bandwidth_hz: bandwidth }, i) => {
      const row = index.size + i;
      const [plus, minus, output] = nodes.map((node) => index.get(node));
      put(output, row, 1);
      put(row, plus, 1);
      put(row, minus, -1);
      if (bandwidth) slow.push([row, /** @type {number} */ (output), 1 / (2 * Math.PI * bandwidth)]);
    });
    const driven = SOURCES.map((name, i) => {
      const row = index.size + amplifiers.length + i;
      put(index.get(name), row, 1);
      put(row, index.get(name), 1);
      return row;
    });
    return { index, size, conductance, slow, driven };
  }

  /**
   * The capacitors whose voltages do not follow from one another's, and every capacitor's in terms of theirs.
   * @param {Part[]} elements
   * @returns {{kept: Part[], shares: [number, Map<number, number>][]}} farads, and the signs of kept voltages
   */
  function memory(elements) {
    /** @type {Map<string, Map<number, number>>} */
    const above = new Map(); // each node's voltage above that of its tree's root, as kept voltages
    const tree = new Map(); // its tree, as a list of nodes
    /** @type {Part[]} */
    const kept = [];
    /** @type {[number, Map<number, number>][]} */
    const shares = [];
    const added = (/** @type {Map<number, number>} */ one, /** @type {Map<number, number>} */ other, /** @type {number} */ sign) => {
      const sum = new Map(one);
      for (const [state, value] of other) sum.set(state, (sum.get(state) ?? 0) + sign * value);
      return sum;
    };
    for (const element of elements) {
      if (element.sort !== 'capacitor') continue;
      const [a, b] = element.nodes;
      for (const node of [a, b]) if (!tree.has(node)) { tree.set(node, [node]); above.set(node, new Map()); }
      const [atA, atB] = [above.get(a), above.get(b)].map((each) => each ?? new Map());
      if (tree.get(a) !== tree.get(b)) {
        const shift = added(added(atA, atB, -1), new Map([[kept.length, 1]]), -1);
        const moved = tree.get(b);
        for (const node of moved) { above.set(node, added(above.get(node) ?? new Map(), shift, 1)); }
        tree.get(a).push(...moved);
        for (const node of moved) tree.set(node, tree.get(a));
        kept.push(element);
      }
      shares.push([/** @type {number} */ (element.value), added(above.get(a) ?? new Map(), above.get(b) ?? new Map(), -1)]);
    }
    return { kept, shares };
  }

  /**
   * @param {Part[]} elements
   * @param {string} output the node that is listened to
   * @returns {StateSpace}
   */
  function stateSpace(elements, output) {
    const { index, size, conductance, slow, driven } = equations(elements);
    const { kept, shares } = memory(elements);
    const [k, r] = [kept.length, kept.length + slow.length];
    const n = size + r;
    const system = new Float64Array(n * n);
    for (let row = 0; row < size; row += 1) system.set(conductance.subarray(row * size, (row + 1) * size), row * n);
    const charge = new Float64Array(k * k);
    for (const [farad, signs] of shares) {
      for (const [i, one] of signs) for (const [j, other] of signs) charge[i * k + j] += farad * one * other;
    }
    const sides = new Float64Array(n * (r + 2));
    kept.forEach(({ nodes }, i) => {
      [1, -1].forEach((sign, end) => {
        const row = index.get(nodes[end]);
        if (row === undefined) return;
        for (let j = 0; j < k; j += 1) system[row * n + size + j] += sign * charge[i * k + j];
        system[(size + i) * n + row] += sign;
      });
      system[(size + i) * n + size + i] = -SERIES_S;
    });
    slow.forEach(([row, column, seconds], i) => {
      system[row * n + size + k + i] = -seconds;
      system[(size + k + i) * n + column] = 1;
    });
    for (let i = 0; i < r; i += 1) sides[(size + i) * (r + 2) + i] = 1;
    driven.forEach((row, i) => { sides[row * (r + 2) + r + i] = 1; });
    if (!sublatch.matrices.solve(system, sides, n, r + 2)) throw new Error('this network fixes not every voltage');
    const [a, b] = [new Float64Array(r * r), new Float64Array(r * 2)];
    for (let i = 0; i < r; i += 1) {
      const row = sides.subarray((size + i) * (r + 2), (size + i + 1) * (r + 2));
      a.set(row.subarray(0, r), i * r);
      b.set(row.subarray(r), i * 2);
    }
    const at = /** @type {number} */ (index.get(output)) * (r + 2);
    const slowNames = elements.filter(({ bandwidth_hz: bandwidth }) => bandwidth).map(({ name }) => name);
    const names = [...kept.map(({ name }) => name), ...slowNames];
    return { names, a, b, c: sides.slice(at, at + r), d: sides.slice(at + r, at + r + 2) };
  }

  /**
   * A network's step of one sample: w[n + 1] = change w[n] + Σ weights u[n − NOW …], y[n] = c w[n] + d u[n].
   * @param {StateSpace} space
   * @param {number} sampleRate
   */
  function step({ names, a, b, c, d }, sampleRate) {
    const r = names.length;
    const n = r + ORDERS * 2;
    const width = POINTS * 2;
    const generator = new Float64Array(n * n);
    for (let i = 0; i < r; i += 1) {
      for (let j = 0; j < r; j += 1) generator[i * n + j] = a[i * r + j] / sampleRate;
      for (let source = 0; source < 2; source += 1) generator[i * n + r + source * ORDERS] = b[i * 2 + source] / sampleRate;
    }
    for (let source = 0; source < 2; source += 1) {
      for (let order = 0; order + 1 < ORDERS; order += 1) {
        const at = r + source * ORDERS + order;
        generator[at * n + at + 1] = 1;
      }
    }
    const moved = sublatch.matrices.exponential(generator, n);
    const [change, weights] = [new Float64Array(r * r), new Float64Array(r * width)];
    for (let i = 0; i < r; i += 1) {
      change.set(moved.subarray(i * n, i * n + r), i * r);
      for (let at = 0; at < width; at += 1) {
        const [source, point] = [Math.floor(at / POINTS), at % POINTS];
        for (let order = 0; order < ORDERS; order += 1) {
          weights[i * width + at] += moved[i * n + r + source * ORDERS + order] * DERIVATIVES[order * POINTS + point];
        }
      }
    }
    return { names, change, weights, c, d };
  }

  /**
   * Whether a network left to itself comes to rest: its step, taken a million times, has not grown.
   * @param {{names: string[], change: Float64Array}} step
   */
  function isStable({ names: { length: r }, change }) {
    let power = change;
    for (let i = 0; i < 20; i += 1) {
      power = sublatch.matrices.product(power, power, r);
      if (!power.every(Number.isFinite)) return false;
    }
    return power.every((value) => Math.abs(value) < 1e12);
  }

  // What turns the samples into the derivatives, at 0, of that polynomial.
  const DERIVATIVES = (() => {
    const powers = new Float64Array(ORDERS * ORDERS);
    const made = new Float64Array(ORDERS * POINTS);
    for (let i = 0; i < ORDERS; i += 1) {
      const place = FROM + i / 2;
      for (let j = 0; j < ORDERS; j += 1) powers[i * ORDERS + j] = place ** j;
      if (i % 2 === 0) made[i * POINTS + NOW + place] = 1;
      else made.set(TAPS, i * POINTS + NOW + Math.floor(place) - REACH + 1);
    }
    sublatch.matrices.solve(powers, made, ORDERS, POINTS);
    for (let order = 1, factorial = 1; order < ORDERS; order += 1) {
      factorial *= order;
      for (let j = 0; j < POINTS; j += 1) made[order * POINTS + j] *= factorial;
    }
    return made;
  })();

  globalThis.sublatch ??= {};
  sublatch.network = { equations, stateSpace, step, isStable, SOURCES, GROUND };
})();
