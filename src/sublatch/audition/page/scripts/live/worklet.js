'use strict';

// @ts-check
// What runs beside the page for every sample: a network's steps, its capacitors' voltages handed on when a knob is
// turned, and the output buffer's limits. It is a function only so that the page has its text; see `address`.
(() => {
  const program = () => {
    const POINTS = 10; // samples that a step is worked out from: four before, five after
    const NOW = POINTS / 2 - 1; // where among them the one is that is worked out
    const FADE_S = 0.025; // straight crossfade from one setting to the next
    const MOST_VOICES = 4; // settings that sound at once while a knob is turned faster than they fade
    const TELL_S = 0.05;
    const ORDERS = 3; // derivatives of the signal that jump where it is clipped
    const HALF = 24; // samples on either side of an instant of clipping that its corner is spread over
    const DENSITY = 512; // points a sample of the table of corners
    const BETA = 14; // Kaiser window of the table's sinc: J. F. Kaiser, 1974 (from memory)
    const NEWTON_STEPS = 6;

    /** The modified Bessel function of order 0, by its power series. @type {(x: number) => number} */
    const bessel = (x) => {
      let [sum, term] = [1, 1];
      for (let k = 1; term > 1e-17 * sum; k += 1) {
        term *= (x / (2 * k)) ** 2;
        sum += term;
      }
      return sum;
    };

    // What a band-limited jump of each derivative has beyond one that is drawn from sample to sample: the repeated integral
    // of a windowed sinc, less x, x² / 2 … after the instant.
    const corners = (() => {
      const count = 2 * HALF * DENSITY + 1;
      const integral = (/** @type {Float64Array} */ of) => {
        const sums = new Float64Array(count);
        for (let i = 1; i < count; i += 1) sums[i] = sums[i - 1] + (of[i] + of[i - 1]) / (2 * DENSITY);
        return sums;
      };
      let values = integral(Float64Array.from({ length: count }, (_, i) => {
        const x = i / DENSITY - HALF;
        const sinc = x === 0 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x);
        return sinc * bessel(BETA * Math.sqrt(Math.max(0, 1 - (x / HALF) ** 2))) / bessel(BETA);
      }));
      values = values.map((value) => value / values[count - 1]);
      let factorial = 1;
      return Array.from({ length: ORDERS }, (_, i) => {
        values = integral(values);
        factorial *= i + 1;
        return values.map((value, at) => value - Math.max(0, at / DENSITY - HALF) ** (i + 1) / factorial);
      });
    })();

    /** The polynomial through a signal's samples around one, in Newton's form. */
    class Polynomial {
      constructor() {
        this.of = new Float64Array(POINTS);
        this.value = new Float64Array(ORDERS + 1); // with its derivatives
      }

      /** @param {Float64Array} samples */
      through(samples) {
        const { of } = this; // divided differences, backward in place
        of.set(samples);
        for (let order = 1; order < POINTS; order += 1) {
          for (let i = POINTS - 1; i >= order; i -= 1) of[i] = (of[i] - of[i - 1]) / order;
        }
      }

      /** @param {number} u where, from that one on in samples @returns {Float64Array} the value and its derivatives */
      at(u) {
        const { of, value } = this;
        value.fill(0);
        for (let i = POINTS - 1; i >= 0; i -= 1) {
          const x = u + NOW - i;
          for (let order = ORDERS; order > 0; order -= 1) value[order] = value[order] * x + order * value[order - 1];
          value[0] = value[0] * x + of[i];
        }
        return value;
      }
    }

    /** An output between two limits, clipped at the very instants, without aliasing. */
    class Limiter {
      constructor() {
        this.samples = new Float64Array(POINTS); // volts around the one that is worked on
        this.ring = new Float64Array(4 * HALF);
        this.at = 0;
        this.over = 0; // samples at the limits so far
        this.curve = new Polynomial();
      }

      /** @param {number} volts the newest @param {number} low @param {number} high @returns {number} what leaves */
      next(volts, low, high) {
        const { samples, ring } = this;
        samples.copyWithin(0, 1);
        samples[POINTS - 1] = volts;
        const [now, then] = [samples[NOW], samples[NOW + 1]];
        this.at = (this.at + 1) % ring.length;
        ring[this.at] += Math.min(Math.max(now, low), high);
        if (now > high || then > high) this.cross(high, now, then, 1);
        if (now < low || then < low) this.cross(low, now, then, -1);
        const leaving = (this.at + ring.length - (HALF - 1)) % ring.length;
        const out = ring[leaving];
        ring[leaving] = 0;
        return out;
      }

      /** @param {number} limit @param {number} now @param {number} then @param {1 | -1} side */
      cross(limit, now, then, side) {
        const [before, after] = [side * (now - limit), side * (then - limit)];
        if (before > 0 && after > 0) {
          this.over += 1;
          return;
        }
        this.curve.through(this.samples);
        let u = before / (before - after);
        for (let i = 0; i < NEWTON_STEPS; i += 1) {
          const [value, slope] = this.curve.at(u);
          if (slope * (then - now) <= 0) break;
          u = Math.min(Math.max(u - (value - limit) / slope, 0), 1);
        }
        const enters = after > 0;
        this.over += enters ? 1 - u : u;
        this.spread(u, this.curve.at(u), enters ? -1 : 1);
      }

      /** @param {number} u where between this sample and the next @param {Float64Array} jumps @param {1 | -1} sign */
      spread(u, jumps, sign) {
        const { ring } = this;
        for (let k = 1 - HALF; k <= HALF; k += 1) {
          const place = (k - u + HALF) * DENSITY;
          const whole = Math.min(Math.floor(place), 2 * HALF * DENSITY - 1);
          const share = place - whole;
          let sum = 0;
          for (let i = 0; i < ORDERS; i += 1) {
            sum += jumps[i + 1] * (corners[i][whole] + share * (corners[i][whole + 1] - corners[i][whole]));
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

      /** @param {Float64Array[]} history of its input's two channels @returns {number} volts at `NOW` */
      next([octave, direct]) {
        const { count, volts, scratch, turn: { change, weights, c, d } } = this;
        let out = d[0] * octave[NOW] + d[1] * direct[NOW];
        for (let i = 0; i < count; i += 1) {
          out += c[i] * volts[i];
          let sum = 0;
          for (let j = 0, at = i * count; j < count; j += 1, at += 1) sum += change[at] * volts[j];
          for (let j = 0, at = i * 2 * POINTS; j < POINTS; j += 1, at += 1) {
            sum += weights[at] * octave[j] + weights[at + POINTS] * direct[j];
          }
          scratch[i] = sum;
        }
        volts.set(scratch);
        return out;
      }
    }

    class Live extends AudioWorkletProcessor {
      constructor({ processorOptions: { full_scales: fullScales, turns } }) {
        super();
        this.fullScales = fullScales; // volts at full scale of each input
        this.histories = fullScales.map(() => [new Float64Array(POINTS), new Float64Array(POINTS)]);
        this.limiter = new Limiter();
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
          samples[POINTS - 1] = (inputs[i]?.[channel]?.[frame] ?? 0) * this.fullScales[i];
        }));
      }

      mixed() {
        let [volts, low, high, gain] = [0, 0, 0, 0];
        let full = 0;
        this.voices.forEach((voice, i) => {
          const own = voice.next(this.histories[voice.turn.input]);
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
  sublatch.liveWorklet = {
    address: `data:text/javascript,${encodeURIComponent(`(${program})()`)}`,
    LATE: 5 + 5 + 23, // samples by which what leaves comes after what enters
  };
})();
