'use strict';

// How much of a take its lanes show: they are made wider than the place that they roll in.
(() => {
  const MOST = 64;
  const LEAST_SECONDS = 1; // shown at most enlarged
  const MOST_TICKS = 10; // in sight at once
  const STEPS_S = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100];

  class Zoom {
    /**
     * @param {{roll: HTMLElement, lanes: HTMLElement, seconds: number}} places The lanes, and what they roll in.
     */
    constructor({ roll, lanes, seconds }) {
      Object.assign(this, { roll, lanes, seconds, factor: 1 });
    }

    /**
     * Show twice as much, or half; what is at a time stays in sight.
     * @param {number} step 1 to show less, larger, and −1 to show more.
     * @param {number} time In seconds.
     */
    by(step, time) {
      const most = Math.min(MOST, Math.max(1, 2 ** Math.floor(Math.log2(this.seconds / LEAST_SECONDS))));
      this.factor = Math.min(Math.max(this.factor * 2 ** step, 1), most);
      this.lanes.style.width = `${100 * this.factor}%`;
      const { roll } = this;
      this.showSeconds();
      roll.scrollLeft = (time / this.seconds) * roll.scrollWidth - roll.clientWidth / 2;
    }

    // Enlarged, the axis has more seconds than those that are drawn for the whole.
    showSeconds() {
      const axis = this.lanes.querySelector('.axis');
      axis.querySelector('.ticks')?.remove();
      axis.classList.toggle('finer', this.factor > 1);
      if (this.factor === 1) return;
      const step = STEPS_S.find((seconds) => this.seconds / seconds <= MOST_TICKS * this.factor) ?? STEPS_S.at(-1);
      const count = Math.floor(this.seconds / step) + 1;
      const ticks = Array.from({ length: count }, (_, i) => {
        const tick = sublatch.markup.make('span', {}, String(Number((i * step).toFixed(1))));
        tick.style.left = `${(100 * i * step) / this.seconds}%`;
        return tick;
      });
      axis.append(sublatch.markup.make('div', { class: 'ticks', 'aria-hidden': 'true' }, ...ticks));
    }

    /**
     * Keep a time in sight; it comes in at the left, as when a page is turned.
     * @param {number} time In seconds.
     */
    follow(time) {
      if (this.factor === 1) return;
      const { roll } = this;
      const x = (time / this.seconds) * roll.scrollWidth - roll.scrollLeft;
      if (x < 0 || x > roll.clientWidth) roll.scrollLeft += x - roll.clientWidth / 10;
    }
  }

  globalThis.sublatch ??= {};
  sublatch.Zoom = Zoom;
})();
