'use strict';

// @ts-check
// What is set by hand, drawn into the pictures of the candidates: the filter's response, and the levels by thirds.
(() => {
  const LOWEST_HZ = 20;

  /** @type {(svg: SVGElement, hertz: number[], levels: (number | null)[]) => string} */
  function path(svg, hertz, levels) {
    const [left, right, top, bottom, low, high, end] = (svg.dataset.plane ?? '').split(' ').map(Number);
    const across = (/** @type {number} */ f) => left + Math.log(f / LOWEST_HZ) / Math.log(end / LOWEST_HZ) * (right - left);
    const up = (/** @type {number} */ level) => bottom - (Math.min(Math.max(level, low), high) - low) / (high - low) * (bottom - top);
    const points = hertz.map((f, i) => ({ f, level: levels[i] ?? NaN }))
      .filter(({ f, level }) => f >= LOWEST_HZ * 0.99 && f <= end * 1.01 && level > low);
    return points.map(({ f, level }, i) => `${i ? 'L' : 'M'}${across(f).toFixed(1)} ${up(level).toFixed(1)}`).join('');
  }

  /** @type {(section: Element, pane: string, hertz: number[], levels: (number | null)[]) => void} */
  function put(section, pane, hertz, levels) {
    const svg = /** @type {SVGElement | null} */ (section.querySelector(`[data-pane=${pane}] svg[data-plane]`));
    if (!svg) return;
    const line = svg.querySelector('.own') ?? document.createElementNS('http://www.w3.org/2000/svg', 'path');
    line.setAttribute('class', 'own curve heard');
    line.setAttribute('d', path(svg, hertz, levels));
    svg.append(line);
  }

  /**
   * Draw what is set.
   * @param {Element} section
   * @param {any} live
   */
  function draw(section, live) {
    const { frequency_hz: hertz, gain_db: gain } = live.response();
    put(section, 'response', [...hertz], [...gain]);
    put(section, 'spectrum', sublatch.soundBands.CENTRES_BY_THIRDS_HZ, live.thirdsDb());
  }

  /** Show it as what is heard, as what was heard before, or not at all. @type {(section: Element, as: '' | 'heard' | 'before') => void} */
  function show(section, as) {
    for (const line of section.querySelectorAll('.curves .own')) line.setAttribute('class', `own curve ${as || 'gone'}`);
  }

  globalThis.sublatch ??= {};
  sublatch.ownCurves = { draw, show };
})();
