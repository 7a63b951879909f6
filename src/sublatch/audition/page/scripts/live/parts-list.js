'use strict';

// @ts-check
// The parts after the octave stage, each a line with its value and two buttons to the next values that are sold.
(() => {
  /** @type {[number, string][]} */
  const PREFIXES = [[1e9, 'G'], [1e6, 'M'], [1e3, 'k'], [1, ''], [1e-3, 'm'], [1e-6, 'µ'], [1e-9, 'n'], [1e-12, 'p']];
  const POTS = [1, 2, 2.2, 2.5, 4.7, 5]; // tracks of pots: common practice, no source

  /** A value as the trade writes it: 4.7 kΩ. @type {(value: number, unit: string) => string} */
  function inWords(value, unit) {
    const [factor, prefix] = PREFIXES.find(([least]) => value >= least * 0.9995) ?? PREFIXES[PREFIXES.length - 1];
    return `${Number((value / factor).toPrecision(3))}\u00a0${prefix}${unit}`;
  }

  /**
   * What can be changed in a circuit: settings with their unit and the series they are sold in.
   * @param {any} circuit
   * @returns {{setting: string, words: string, value: number, unit: string, series: number[]}[]}
   */
  function changeable(circuit) {
    const farads = new Set(circuit.parts.filter((/** @type {any} */ { sort }) => sort === 'capacitor')
      .flatMap((/** @type {any} */ { value, flat, peaked }) => [value, flat, peaked]));
    const values = Object.entries(circuit.values).map(([setting, value]) => (farads.has(setting)
      ? { setting, value, unit: 'F', series: sublatch.knob.E12 } : { setting, value, unit: 'Ω', series: sublatch.knob.E24 }));
    const pots = Object.entries(circuit.pots).map(([setting, { value }]) => ({ setting, value, unit: 'Ω', series: POTS }));
    return [...pots, ...values].map((each) => ({ ...each, words: circuit.words[each.setting] }));
  }

  /** @type {(words: string, label: string, press: () => void) => HTMLButtonElement} */
  function button(words, label, press) {
    const made = document.createElement('button');
    made.type = 'button';
    made.textContent = words;
    made.setAttribute('aria-label', label);
    made.addEventListener('click', press);
    return made;
  }

  /**
   * Fill a place with a circuit's parts.
   * @param {Element} place
   * @param {any} circuit
   * @param {{values: Record<string, number>, wish: object | null}} setting what is set; with a wish the filter has no parts
   * @param {(setting: string, value: number, words: string) => void} change
   */
  function show(place, circuit, { values, wish }, change) {
    const there = changeable(circuit).filter(({ setting }) => !wish || !setting.startsWith('filter.'));
    place.replaceChildren(...there.map(({ setting, words, value, unit, series }) => {
      const [line, name, output] = [document.createElement('p'), document.createElement('span'), document.createElement('output')];
      let now = values[setting] ?? value;
      const back = button('back', `${words}: back to ${inWords(value, unit)}`, () => to(value));
      const tell = () => {
        output.textContent = inWords(now, unit);
        back.style.visibility = now === value ? 'hidden' : 'visible';
        line.classList.toggle('changed', now !== value);
      };
      const to = (/** @type {number} */ next) => {
        const before = now;
        now = next;
        try {
          change(setting, now, `${words} ${inWords(now, unit)}`);
        } catch (problem) {
          now = before;
          throw problem;
        } finally {
          tell();
        }
      };
      const step = (/** @type {number} */ steps) => () => to(sublatch.knob.stepped(now, steps, series));
      name.textContent = words;
      const [lower, higher] = [step(-1), step(1)];
      line.append(name, button('−', `${words}: next lower value`, lower), output, button('+', `${words}: next higher value`, higher), back);
      tell();
      return line;
    }));
  }

  globalThis.sublatch ??= {};
  sublatch.livePartsList = { show, inWords, changeable };
})();
