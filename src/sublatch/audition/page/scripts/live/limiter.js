'use strict';

// @ts-check
// The output buffer between its supply limits, as in Python (signal/filtering/limits.py): clipping is switching, at exact
// instants, band-limited, at twice the rate. It runs in the worklet, and is a function only so that the page has its text.
(() => {
  const program = () => {
    const NEWTON_STEPS = 6;
    const RING = 512; // half samples kept, more than any delay

    /** The polynomial through a signal's samples and half samples around one, in Newton's form. */
    class Curve {
      /** @param {any} tables */
      constructor(tables) {
        this.tables = tables;
        this.of = new Float64Array(tables.GRID);
      }

      /** The half sample after a sample. @param {Float64Array} samples @param {number} after @returns {number} */
      halfway(samples, after) {
        const { taps, reach, now } = this.tables.clipping;
        let sum = 0;
        for (let i = 0, at = now + after - reach + 1; i < taps.length; i += 1, at += 1) sum += taps[i] * samples[at];
        return sum;
      }

      /** @param {Float64Array} samples */
      through(samples) {
        const { of, tables: { FROM, GRID, clipping: { now } } } = this;
        for (let i = 0; i < GRID; i += 1) {
          const place = FROM + i / 2;
          of[i] = i % 2 ? this.halfway(samples, Math.floor(place)) : samples[now + place];
        }
        for (let order = 1; order < GRID; order += 1) { // divided differences, backward in place
          for (let i = GRID - 1; i >= order; i -= 1) of[i] = 2 * (of[i] - of[i - 1]) / order;
        }
      }

      /** The value and its slope. @param {number} u from 0 to 1 between this sample and the next @returns {[number, number]} */
      at(u) {
        const { of, tables: { FROM, GRID } } = this;
        let [value, slope] = [0, 0];
        for (let i = GRID - 1; i >= 0; i -= 1) {
          const x = u - FROM - i / 2;
          slope = slope * x + value;
          value = value * x + of[i];
        }
        return [value, slope];
      }
    }

    /** A band-limited 1 while a signal is past a limit, and 0 elsewhere, at twice the rate. */
    class Indicator {
      /** @param {any} tables */
      constructor(tables) {
        this.tables = tables;
        this.ring = new Float64Array(RING);
        this.over = 0; // samples past the limit so far
        this.busy = 0; // half samples for which there is still something in the ring
      }

      /**
       * Two half samples further.
       * @param {number} at of the first, counted from the start
       * @param {number[]} past how far past the limit it is, the next, and the one after
       * @param {(from: number) => number} instant where it crosses the limit, from 0 or 0.5 on
       */
      next(at, past, instant) {
        this.busy -= 2;
        for (const half of [0, 1]) {
          const [before, after] = [past[half] > 0, past[half + 1] > 0];
          if (before) this.ring[(at + half) % RING] += 1;
          if (before || after) this.busy = RING / 2;
          if (before && after) this.over += 0.5;
          if (before === after) continue;
          const u = instant(half / 2);
          this.over += after ? (half + 1) / 2 - u : u - half / 2;
          this.spread(at, 2 * u, after ? 1 : -1);
        }
      }

      /** A step, less the one that is drawn from half sample to half sample. */
      spread(at, u, sign) {
        const { ring, tables: { SPREAD, DENSITY, step } } = this;
        const after = Math.floor(u) + 1;
        for (let k = after - SPREAD; k < after + SPREAD; k += 1) {
          const place = Math.min(Math.max((k - u + SPREAD) * DENSITY, 0), step.length - 1.001);
          const whole = Math.floor(place);
          const value = step[whole] + (place - whole) * (step[whole + 1] - step[whole]);
          ring[(at + k + RING) % RING] += sign * (value - (k >= after ? 1 : 0));
        }
      }

      /** What it is at a half sample that nothing is added to any more. @param {number} at @returns {number} */
      taken(at) {
        const value = this.ring[at % RING];
        this.ring[at % RING] = 0;
        return value;
      }
    }

    /** An output between two limits, clipped at the very instants, without aliasing. */
    class Limiter {
      /** @param {any} tables */
      constructor(tables) {
        this.tables = tables;
        this.samples = new Float64Array(tables.clipping.points); // volts around the one that is worked on
        this.volts = new Float64Array(RING); // at twice the rate
        this.excess = new Float64Array(RING); // what clipping takes away
        this.at = RING; // half samples so far
        this.curve = new Curve(tables);
        this.sides = [new Indicator(tables), new Indicator(tables)];
      }

      get over() { return this.sides[0].over + this.sides[1].over; }

      set over(over) { for (const side of this.sides) side.over = over; }

      /** @param {number} volts the newest @param {number} low @param {number} high @returns {number} what leaves */
      next(volts, low, high) {
        const { samples, at, tables: { clipping: { now }, SPREAD, HALVING } } = this;
        samples.copyWithin(0, 1);
        samples[samples.length - 1] = volts;
        this.at += 2;
        this.volts[at % RING] = samples[now];
        this.look(at, samples[now], samples[now + 1], low, high);
        const busy = this.sides.some((side) => side.busy > 0);
        for (const k of [at - SPREAD, at - SPREAD + 1]) {
          const [above, below] = this.sides.map((side) => (busy ? side.taken(k) : 0));
          const here = this.volts[k % RING];
          this.excess[k % RING] = above * (here - high) + below * (here - low);
        }
        const leaving = at - SPREAD - HALVING;
        return this.volts[leaving % RING] - (busy ? this.halved(leaving) : 0);
      }

      look(at, now, then, low, high) {
        const middle = this.curve.halfway(this.samples, 0);
        this.volts[(at + 1) % RING] = middle;
        const isOver = Math.max(now, middle, then) > high || Math.min(now, middle, then) < low;
        if (!isOver && this.sides.every((side) => side.busy <= 0)) return;
        const all = [now, middle, then];
        if (isOver) this.curve.through(this.samples);
        this.sides[0].next(at, all.map((each) => each - high), (from) => this.instant(high, from, all));
        this.sides[1].next(at, all.map((each) => low - each), (from) => this.instant(low, from, all));
      }

      /** @param {number} limit @param {number} from @param {number[]} all @returns {number} */
      instant(limit, from, all) {
        const [before, after] = [all[2 * from] - limit, all[2 * from + 1] - limit];
        let u = from + 0.5 * before / (before - after);
        for (let i = 0; i < NEWTON_STEPS; i += 1) {
          const [value, slope] = this.curve.at(u);
          if (slope * (after - before) <= 0) break;
          u = Math.min(Math.max(u - (value - limit) / slope, from), from + 0.5);
        }
        return u;
      }

      /** The excess at a sample, of what lies in its band. @param {number} at @returns {number} */
      halved(at) {
        const { excess, tables: { HALVING, halving } } = this;
        let sum = halving[HALVING] * excess[at % RING];
        for (let k = 1; k <= HALVING; k += 2) {
          sum += halving[HALVING + k] * (excess[(at + k) % RING] + excess[(at - k) % RING]);
        }
        return sum;
      }
    }

    return Limiter;
  };

  globalThis.sublatch ??= {};
  sublatch.limiter = program;
})();
