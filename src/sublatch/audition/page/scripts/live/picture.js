'use strict';

// @ts-check
// The output filter's curve, redrawn as it is turned.
(() => {
  const [WIDTH, HEIGHT, LEFT, BOTTOM] = [480, 240, 34, 18];
  const [LOWEST_HZ, HIGHEST_HZ] = [20, 10e3];
  const [HIGHEST_DB, LOWEST_DB] = [18, -48];

  /** @type {(hertz: number) => number} */
  const across = (hertz) => LEFT + (WIDTH - LEFT) * Math.log(hertz / LOWEST_HZ) / Math.log(HIGHEST_HZ / LOWEST_HZ);
  /** @type {(decibels: number) => number} */
  const down = (decibels) => (HEIGHT - BOTTOM) * (HIGHEST_DB - decibels) / (HIGHEST_DB - LOWEST_DB);

  /** @type {(name: string, attributes: Record<string, string | number>, text?: string) => SVGElement} */
  function made(name, attributes, text = '') {
    const element = document.createElementNS('http://www.w3.org/2000/svg', name);
    for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, String(value));
    element.textContent = text;
    return element;
  }

  /** @type {(svg: SVGElement) => void} */
  function grid(svg) {
    for (const hertz of [20, 50, 100, 200, 500, 1000, 2000, 5000]) {
      const x = across(hertz).toFixed(1);
      svg.append(made('path', { class: 'grid', d: `M${x} 0V${HEIGHT - BOTTOM}` }));
      svg.append(made('text', { x, y: HEIGHT - 5, 'text-anchor': 'middle' }, hertz < 1000 ? `${hertz}` : `${hertz / 1000}k`));
    }
    for (const decibels of [12, 0, -12, -24, -36]) {
      const y = down(decibels).toFixed(1);
      svg.append(made('path', { class: 'grid', d: `M${LEFT} ${y}H${WIDTH}` }));
      svg.append(made('text', { x: LEFT - 4, y: Number(y) + 4, 'text-anchor': 'end' }, `${decibels}`.replace('-', '−')));
    }
  }

  /**
   * Draw a filter's curve against its own level at low frequencies, and its corner.
   * @param {SVGElement} svg
   * @param {{frequency_hz: number[], gain_db: number[], reference_db: number, corner_hz: number | null}} response
   */
  function draw(svg, { frequency_hz: frequency, gain_db: gain, reference_db: reference, corner_hz: corner }) {
    if (!svg.firstChild) {
      grid(svg);
      svg.append(made('path', { class: 'corner' }), made('path', { class: 'turned' }));
    }
    const points = frequency.map((hertz, i) => [hertz, gain[i] - reference]).filter(([hertz, decibels]) => (
      hertz >= LOWEST_HZ && hertz <= HIGHEST_HZ && decibels >= LOWEST_DB));
    const path = points.map(([hertz, decibels]) => `${across(hertz).toFixed(1)} ${down(Math.min(decibels, HIGHEST_DB)).toFixed(1)}`);
    svg.querySelector('.turned').setAttribute('d', path.length ? `M${path.join('L')}` : '');
    const inside = corner !== null && corner >= LOWEST_HZ && corner <= HIGHEST_HZ;
    svg.querySelector('.corner').setAttribute('d', inside ? `M${across(corner).toFixed(1)} 0V${HEIGHT - BOTTOM}` : '');
  }

  globalThis.sublatch ??= {};
  sublatch.livePicture = { draw };
})();
