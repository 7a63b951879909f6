'use strict';

// @ts-check
// What runs beside the page for every sample: a network's steps, its capacitors' voltages handed on when a knob is
// turned, and the output buffer's limits (limiter.js). It is a function only so that the page has its text.
(() => {
  const program = (/** @type {any} */ Limiter) => {
    const FADE_S = 0.025; // straight crossfade from one setting to the next
    const MOST_VOICES = 4; // settings that sound at once while a knob is turned faster than they fade
    const TELL_S = 0.05;

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
        this.histories = fullScales.map(() => [0, 1].map(() => new Float64Array(tables.network.points)));
        this.now = tables.network.now;
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
  sublatch.liveWorklet = `data:text/javascript,${encodeURIComponent(`(${program})((${sublatch.limiter})());`)}`;
})();
