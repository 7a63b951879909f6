'use strict';

// @ts-check
// One take, made by the page itself while it plays: whatever is turned after the octave stage is heard at once. See
// `createLive`; the page sets controls and asks for figures, and knows nothing of networks.
(() => {
  /**
   * @typedef {object} Turn what is wanted; what is left out stays as it is
   * @property {string} [candidate] the candidate to start from, with all its own controls and parts
   * @property {Record<string, any>} [controls] tone, peak, direct, direct_tone, volume
   * @property {Record<string, number>} [values] parts by their settings, in ohms and farads
   * @property {import('./wish.js').Wish | null} [wish] a filter in place of the parts'; null for the parts' own
   */

  /** @type {Map<BaseAudioContext, Promise<void>>} */
  const modules = new Map();

  /** @type {(context: BaseAudioContext) => Promise<void>} */
  function module(context) {
    if (!modules.has(context)) modules.set(context, context.audioWorklet.addModule(sublatch.liveWorklet));
    return modules.get(context);
  }

  class Live extends EventTarget {
    #take;
    #circuits;
    #sounds;
    #turn = null;
    #number = 0;
    #waiting = [];
    #over = { share: 0 };

    /** @param {BaseAudioContext} context @param {any} take its `live` data @param {any} circuits @param {any[]} sounds */
    constructor(context, take, circuits, sounds) {
      super();
      Object.assign(this, { context, node: null });
      this.#take = take;
      this.#circuits = circuits;
      this.#sounds = sounds;
    }

    /** Candidates that it can play. @returns {string[]} */
    get candidates() { return this.#take.sounds.flatMap(({ candidates }) => candidates.map(({ name }) => name)); }

    /** What is heard now: candidate, controls, values, wish. */
    get setting() { return this.#turn && { ...this.#turn.wanted }; }

    /** The circuit of what is heard, as Python tells it. */
    get circuit() { return this.#circuits[this.#turn.wanted.candidate]; }

    /** Share of the last moments at the output's limits, 0 to 1. */
    get overload() { return this.#over.share; }

    /** By how much what leaves comes after what enters, in seconds: feed it so much ahead. */
    get late_s() { return sublatch.tables.LATE / this.context.sampleRate; }

    /** The sounds to feed its inputs with, in their order. @returns {AudioBuffer[]} */
    get buffers() { return this.#sounds.map(({ buffer }) => buffer); }

    /**
     * Turn something. The sound follows within milliseconds once it plays.
     * @param {Turn} change
     * @param {number} [frame] the context's frame from which on; at once without
     */
    set(change, frame) {
      const wanted = this.#wanted(change);
      const turn = this.#worked(wanted);
      turn.frame = frame;
      this.#turn = turn;
      const { names, change: matrix, weights, c, d, input, limits, gain, number } = turn;
      const message = { names, change: matrix, weights, c, d, input, limits, gain, number, frame };
      if (this.node) this.node.port.postMessage(message);
      else this.#waiting = frame === undefined ? [message] : [...this.#waiting, message];
      this.dispatchEvent(new Event('turned'));
    }

    #wanted({ candidate, controls = {}, values = {}, wish }) {
      const before = this.#turn?.wanted;
      const base = candidate && candidate !== before?.candidate ? this.#own(candidate) : before ?? this.#own(this.candidates[0]);
      return {
        candidate: base.candidate,
        controls: { ...base.controls, ...controls },
        values: { ...base.values, ...values },
        wish: wish === undefined ? base.wish : wish,
      };
    }

    #own(candidate) {
      const { volume } = this.#take.sounds.flatMap(({ candidates }) => candidates).find(({ name }) => name === candidate);
      const { controls } = this.#circuits[candidate];
      return { candidate, controls: { ...controls, volume: controls.volume ?? volume }, values: {}, wish: null };
    }

    #worked(wanted) {
      const own = this.#circuits[wanted.candidate];
      const circuit = wanted.wish ? sublatch.wish.circuit(own, wanted.wish) : own;
      const elements = sublatch.response.elements({ circuit, controls: wanted.controls, values: wanted.values });
      const step = sublatch.network.step(sublatch.network.stateSpace(elements, circuit.output), this.context.sampleRate);
      if (!sublatch.network.isStable(step)) throw new Error('with this value the circuit would not come to rest');
      const input = this.#take.sounds.findIndex(({ candidates }) => candidates.some(({ name }) => name === wanted.candidate));
      const gain = sublatch.response.gains(elements, circuit.output);
      const lufs = this.#sounds[input].loudness?.of(gain) ?? null;
      const gainDb = this.#gainDb(lufs);
      this.#number += 1;
      return {
        ...step, wanted, circuit, elements, input, lufs, gain_db: gainDb, limits: circuit.limits, number: this.#number,
        gain: 10 ** (gainDb / 20) / this.#take.full_scale_volts,
      };
    }

    #gainDb(lufs) {
      const { target_lufs: target, gain_db: plain } = this.#take;
      return target === null || lufs === null ? plain : target - lufs;
    }

    /** Gain of the output filter in dB over frequency, its corner and its peak, as it is set. */
    response() {
      const { elements, circuit } = this.#turn;
      return sublatch.response.figures(elements, circuit.filtered);
    }

    /** Loudness of the circuit's output before matching, and the gain that matches it. */
    level() {
      const { lufs, gain_db: gainDb } = this.#turn;
      return { lufs, gain_db: gainDb };
    }

    /** All that is told of the setting. */
    figures() {
      const { frequency_hz: _, gain_db: __, ...figures } = this.response();
      return { ...figures, ...this.level(), overload: this.overload };
    }

    /** The node, made when it is first asked for: an input of two channels for each of `buffers`, one channel out. */
    connect(destination) {
      if (!this.#turn) this.set({});
      this.node ??= this.#made();
      this.node.connect(destination);
      return this.node;
    }

    #made() {
      const node = new AudioWorkletNode(this.context, 'sublatch-live', {
        numberOfInputs: this.#sounds.length,
        numberOfOutputs: 1,
        outputChannelCount: [1],
        channelCount: 2,
        channelCountMode: 'explicit',
        channelInterpretation: 'discrete',
        processorOptions: {
          full_scales: this.#take.sounds.map((each) => each.full_scale_volts),
          turns: this.#waiting,
          tables: sublatch.tables,
        },
      });
      node.port.onmessage = ({ data }) => {
        if (data.frames === undefined) this.dispatchEvent(new CustomEvent('heard', { detail: data }));
        else {
          this.#over.share = data.over / data.frames;
          this.dispatchEvent(new Event('overload'));
        }
      };
      return node;
    }

    /** Stop for good. */
    end() {
      this.node?.port.postMessage('end');
      this.node?.disconnect();
      this.node = null;
    }
  }

  /**
   * Make a take's own sound.
   * @param {BaseAudioContext} context at the take's rate
   * @param {{live: any, sample_rate: number}} take from the page's data
   * @param {any} circuits the page's `live.circuits`
   * @returns {Promise<Live>}
   */
  async function createLive(context, take, circuits) {
    const { sounds } = take.live;
    const loaded = Promise.all(sounds.map(async (each) => {
      const [[buffer], bands] = await Promise.all([
        sublatch.sounds.load([each.carrier], take.sample_rate, () => {}), sublatch.sounds.data(each.bands),
      ]);
      const figures = new Float32Array(bands.buffer, bands.byteOffset, bands.byteLength / 4);
      return { buffer, loudness: figures.length ? new sublatch.Loudness(figures) : null };
    }));
    const [ready] = await Promise.all([loaded, module(context)]);
    return new Live(context, take.live, circuits, ready);
  }

  globalThis.sublatch ??= {};
  sublatch.createLive = createLive;
})();
