'use strict';

// @ts-check
// What runs beside the page for every sample: a network's steps, its capacitors' voltages handed on when a knob is
// turned, and the output buffer's limits. It is a function only so that the page has its text.
(() => {
  const program = () => {
    const FADE_S = 0.025; // straight crossfade from one setting to the next
    const MOST_VOICES = 4; // settings that sound at once while a knob is turned faster than they fade
    const TELL_S = 0.05;
    const NEWTON_STEPS = 6;
    const NEAR = 0.37; // share of a limit below which nothing between samples reaches it (signal/filtering/limits.py)

    /** The polynomial through a signal's samples and half samples around one, in Newton's form. */
    class Curve {
      /** @param {any} tables */
      constructor(tables) {
        this.tables = tables;
        this.of = new Float64Array(tables.GRID);
        this.found = new Float64Array(tables.jumps.length + 1); // the value and its derivatives
      }

      /** The half sample after a sample. @param {Float64Array} samples @param {number} after @returns {number} */
      halfway(samples, after) {
        const { halfway, REACH, NOW } = this.tables;
        let sum = 0;
        for (let i = 0, at = NOW + after - REACH + 1; i < halfway.length; i += 1, at += 1) sum += halfway[i] * samples[at];
        return sum;
      }

      /** @param {Float64Array} samples */
      through(samples) {
        const { of, tables: { FROM, NOW, GRID } } = this;
        for (let i = 0; i < GRID; i += 1) {
          const place = FROM + i / 2;
          of[i] = i % 2 ? this.halfway(samples, Math.floor(place)) : samples[NOW + place];
        }
        for (let order = 1; order < GRID; order += 1) { // divided differences, backward in place
          for (let i = GRID - 1; i >= order; i -= 1) of[i] = 2 * (of[i] - of[i - 1]) / order;
        }
      }

      /** @param {number} u from 0 to 1 between this sample and the next @returns {Float64Array} */
      at(u) {
        const { of, found, tables: { FROM, GRID } } = this;
        found.fill(0);
        for (let i = GRID - 1; i >= 0; i -= 1) {
          const x = u - FROM - i / 2;
          for (let order = found.length - 1; order > 0; order -= 1) {
            found[order] = found[order] * x + order * found[order - 1];
          }
          found[0] = found[0] * x + of[i];
        }
        return found;
      }
    }

    /** An output between two limits, clipped at the very instants, without aliasing. */
    class Limiter {
      /** @param {any} tables */
      constructor(tables) {
        this.tables = tables;
        this.samples = new Float64Array(tables.POINTS); // volts around the one that is worked on
        this.ring = new Float64Array(4 * tables.HALF);
        this.at = 0;
        this.over = 0; // samples at the limits so far
        this.curve = new Curve(tables);
      }

      /** @param {number} volts the newest @param {number} low @param {number} high @returns {number} what leaves */
      next(volts, low, high) {
        const { samples, ring, tables: { NOW, HALF } } = this;
        samples.copyWithin(0, 1);
        samples[samples.length - 1] = volts;
        this.at = (this.at + 1) % ring.length;
        ring[this.at] += Math.min(Math.max(samples[NOW], low), high);
        this.clip(samples[NOW], samples[NOW + 1], low, high);
        const leaving = (this.at + ring.length - (HALF - 1)) % ring.length;
        const out = ring[leaving];
        ring[leaving] = 0;
        return out;
      }

      clip(now, then, low, high) {
        if (Math.max(now, then) < NEAR * high && Math.min(now, then) > NEAR * low) return;
        const middle = this.curve.halfway(this.samples, 0);
        const [highest, lowest] = [Math.max(now, middle, then), Math.min(now, middle, then)];
        if (highest <= high && lowest >= low) return;
        this.curve.through(this.samples);
        for (const [u, one, other] of [[0, now, middle], [0.5, middle, then]]) {
          if (highest > high) this.cross(high, u, one - high, other - high);
          if (lowest < low) this.cross(low, u, low - one, low - other);
        }
      }

      /** @param {number} limit @param {number} from @param {number} before how far past it @param {number} after */
      cross(limit, from, before, after) {
        if (before > 0 && after > 0) this.over += 0.5;
        if (before > 0 === after > 0) return;
        let [u, enters] = [from + 0.5 * before / (before - after), after > 0];
        for (let i = 0; i < NEWTON_STEPS; i += 1) {
          const [value, slope] = this.curve.at(u);
          const move = (value - limit) / slope;
          if (!Number.isFinite(move)) break;
          u = Math.min(Math.max(u - move, from), from + 0.5);
        }
        this.over += enters ? from + 0.5 - u : u - from;
        this.spread(u, this.curve.at(u), enters ? -1 : 1);
      }

      /** @param {number} u @param {Float64Array} found the signal there and its derivatives @param {1 | -1} sign */
      spread(u, found, sign) {
        const { ring, tables: { HALF, DENSITY, jumps } } = this;
        for (let k = 1 - HALF; k <= HALF; k += 1) {
          const place = (k - u + HALF) * DENSITY;
          const whole = Math.min(Math.floor(place), 2 * HALF * DENSITY - 1);
          const share = place - whole;
          let sum = 0;
          for (let i = 0; i < jumps.length; i += 1) {
            sum += found[i + 1] * (jumps[i][whole] + share * (jumps[i][whole + 1] - jumps[i][whole]));
          }
          ring[(this.at + k + ring.length) % ring.length] += sign * sum;
        }
      }
    }

    /** One setting, sounding. */
    class Voice {
      /** @param {any} turn @param {Voice | null} before whose voltages go on */
      constructor(turn, before) {
        this.turn = turn;
        this.count = turn.names.length;
        this.volts = new Float64Array(this.count);
        this.scratch = new Float64Array(this.count);
        turn.names.forEach((name, i) => {
          const there = before ? before.turn.names.indexOf(name) : -1;
          if (there >= 0) this.volts[i] = before.volts[there];
        });
        this.rise = before ? 0 : 1;
      }

      /** @param {Float64Array[]} history of its input's two channels @param {number} now @returns {number} volts then */
      next([octave, direct], now) {
        const { count, volts, scratch, turn: { change, weights, c, d } } = this;
        const points = octave.length;
        let out = d[0] * octave[now] + d[1] * direct[now];
        for (let i = 0; i < count; i += 1) {
          out += c[i] * volts[i];
          let sum = 0;
          for (let j = 0, at = i * count; j < count; j += 1, at += 1) sum += change[at] * volts[j];
          for (let j = 0, at = i * 2 * points; j < points; j += 1, at += 1) {
            sum += weights[at] * octave[j] + weights[at + points] * direct[j];
          }
          scratch[i] = sum;
        }
        volts.set(scratch);
        return out;
      }
    }

    class Live extends AudioWorkletProcessor {
      constructor({ processorOptions: { full_scales: fullScales, turns, tables } }) {
        super();
        this.fullScales = fullScales; // volts at full scale of each input
        this.histories = fullScales.map(() => [0, 1].map(() => new Float64Array(tables.POINTS)));
        this.now = tables.NOW;
        this.limiter = new Limiter(tables);
        this.turns = turns; // still to come, each at its frame
        /** @type {Voice[]} */
        this.voices = [];
        this.fade = Math.round(FADE_S * sampleRate);
        this.told = 0;
        this.ended = false;
        this.port.onmessage = ({ data }) => {
          if (data === 'end') this.ended = true;
          else this.turns = [...this.turns.filter(({ frame }) => frame > currentFrame), data];
        };
      }

      begin(turn) {
        const before = this.voices.at(-1) ?? null;
        this.voices.push(new Voice(turn, before));
        this.port.postMessage({ turned: turn.number, frame: currentFrame });
      }

      process(inputs, [[out]]) {
        for (let frame = 0; frame < out.length; frame += 1) {
          while (this.turns.length && this.voices.length < MOST_VOICES && (this.turns[0].frame ?? 0) <= currentFrame + frame) {
            this.begin(this.turns.shift());
          }
          this.take(inputs, frame);
          out[frame] = this.voices.length ? this.mixed() : 0;
        }
        this.tell(out.length);
        return !this.ended;
      }

      take(inputs, frame) {
        this.histories.forEach((history, i) => history.forEach((samples, channel) => {
          samples.copyWithin(0, 1);
          samples[samples.length - 1] = (inputs[i]?.[channel]?.[frame] ?? 0) * this.fullScales[i];
        }));
      }

      mixed() {
        let [volts, low, high, gain] = [0, 0, 0, 0];
        let full = 0;
        this.voices.forEach((voice, i) => {
          const own = voice.next(this.histories[voice.turn.input], this.now);
          const { rise, turn } = voice;
          volts += (own - volts) * (i ? rise : 1);
          low += (turn.limits[0] - low) * (i ? rise : 1);
          high += (turn.limits[1] - high) * (i ? rise : 1);
          gain += (turn.gain - gain) * (i ? rise : 1);
          if (rise >= 1) full = i;
          voice.rise = Math.min(1, rise + 1 / this.fade);
        });
        if (full) this.voices.splice(0, full);
        return gain * this.limiter.next(volts, low, high);
      }

      tell(frames) {
        this.told += frames;
        if (this.told < TELL_S * sampleRate) return;
        this.port.postMessage({ over: this.limiter.over, frames: this.told });
        this.limiter.over = this.told = 0;
      }
    }

    registerProcessor('sublatch-live', Live);
  };

  globalThis.sublatch ??= {};
  sublatch.liveWorklet = `data:text/javascript,${encodeURIComponent(`(${program})()`)}`;
})();
