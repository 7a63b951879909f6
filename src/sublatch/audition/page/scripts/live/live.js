'use strict';

// @ts-check
// One take, made by the page itself while it plays: whatever is turned after the octave stage is heard at once. See
// `createLive`; the page sets controls and asks for figures, and knows nothing of networks.
(() => {
  const SETTLED_MS = 300; // a hand that has rested for so long wants exact figures
  const AT_LIMIT = 0.995; // of a limit: what counts as at it, sample by sample
  const [FULL_TURN, HALVINGS] = [10, 14];

  /**
   * Tells `turned` when something was set, `overload` now and then while it plays, `heard` when a turn begins to sound,
   * and `settled` when exact figures have come in.
   */
  class Live extends EventTarget {
    #context;
    #take;
    #told;
    #sounds;
    #nodes = new Set();
    #turn = null;
    #number = 0;
    #waiting = [];
    #share = 0;
    #timer = 0;

    /** @param {BaseAudioContext} context @param {any} take its `live` data @param {any} told @param {any[]} sounds */
    constructor(context, take, told, sounds) {
      super();
      this.#context = context;
      this.#take = take;
      this.#told = told;
      this.#sounds = sounds;
    }

    /** Candidates that it can play. @returns {string[]} */
    get candidates() { return this.#sounds.flatMap(({ candidates }) => candidates.map(({ name }) => name)); }

    /** What is set: candidate, controls, values, wish. */
    get setting() { return this.#turn && this.#turn.wanted; }

    /** The circuit of what is set, as Python tells it or with parts that were found; a wish apart. */
    get circuit() { return this.#circuit(this.#turn.wanted); }

    /** Share of the last moments at the output's limits, 0 to 1. */
    get overload() { return this.#share; }

    /** By how much what leaves comes after what enters, in seconds: feed it so much ahead. */
    get late_s() { return sublatch.tables.LATE / this.#context.sampleRate; }

    /** The sounds to feed its inputs with, in their order. @returns {AudioBuffer[]} */
    get buffers() { return this.#sounds.map(({ buffer }) => buffer); }

    /**
     * Turn something. The sound follows within milliseconds once it plays.
     * @param {Change} change
     * @param {number} [frame] the context's frame from which on; at once without
     * @throws {Error} when the circuit would not come to rest; all stays as it was
     */
    set(change, frame) {
      this.#begin(this.#worked(this.#wanted(change)), frame);
      clearTimeout(this.#timer);
      if (this.#context instanceof AudioContext && !change.fresh) this.#timer = setTimeout(() => this.settle(), SETTLED_MS);
      this.dispatchEvent(new Event('turned'));
    }

    /** @param {Change} change */
    #wanted({ candidate, controls = {}, values = {}, wish, found, fresh = false }) {
      const before = this.#turn?.wanted;
      const other = candidate !== undefined && candidate !== before?.candidate;
      const base = !before || other || fresh ? this.#own(candidate ?? this.candidates[0]) : before;
      return {
        candidate: base.candidate,
        controls: { ...base.controls, ...controls },
        values: { ...(found === undefined ? base.values : sublatch.wish.unfiltered(base.values)), ...values },
        wish: wish === undefined ? base.wish : wish,
        found: found === undefined ? base.found : found,
      };
    }

    #circuit({ candidate, found }) {
      const own = this.#told.circuits[candidate];
      return found ? sublatch.find.circuit(own, this.#told.swept, found) : own;
    }

    #own(candidate) {
      const { volume } = this.#candidate(candidate);
      const { controls } = this.#told.circuits[candidate];
      return { candidate, controls: { ...controls, volume: controls.volume ?? volume }, values: {}, wish: null, found: null };
    }

    #elements(wanted) {
      const own = this.#circuit(wanted);
      const circuit = wanted.wish ? sublatch.wish.circuit(own, wanted.wish, wanted.controls) : own;
      const controls = wanted.found ? sublatch.wish.controlled(wanted.controls) : wanted.controls;
      return { circuit, elements: sublatch.response.elements({ circuit, controls, values: wanted.values }) };
    }

    #spaced(wanted) {
      const { circuit, elements } = this.#elements(wanted);
      const space = sublatch.network.stateSpace(elements, circuit.output);
      const input = this.#sounds.findIndex(({ candidates }) => candidates.some(({ name }) => name === wanted.candidate));
      return { circuit, elements, space, input };
    }

    #worked(wanted) {
      const { circuit, elements, space, input } = this.#spaced(wanted);
      const step = sublatch.network.step(space, this.#context.sampleRate);
      if (!sublatch.network.isStable(step)) throw new Error('with this value the circuit would not come to rest');
      const lufs = this.#sounds[input].loudness?.of(sublatch.response.spaceGains(space)) ?? null;
      const rest = sublatch.idle.volts(elements, circuit.off, circuit.output);
      const limits = circuit.limits.map((/** @type {number} */ limit) => limit - rest);
      return { wanted, circuit, elements, space, input, lufs, message: { ...step, input, limits } };
    }

    #begin(turn, frame) {
      this.#number += 1;
      const gain = 10 ** (this.#gainDb(turn) / 20) / this.#take.full_scale_volts;
      this.#turn = { ...turn, number: this.#number };
      const message = { ...turn.message, gain, number: this.#number, frame };
      for (const node of this.#nodes) node.port.postMessage(message);
      this.#waiting = frame === undefined ? [message] : [...this.#waiting, message];
    }

    // A candidate as it stands has the gain of its file.
    #gainDb({ wanted, lufs }) {
      const { target_lufs: target, gain_db: plain } = this.#take;
      if (this.#isUnchanged(wanted)) return this.#candidate(wanted.candidate).gain_db;
      return target === null || lufs === null ? plain : target - lufs;
    }

    #isUnchanged({ candidate, controls, values, wish, found }) {
      const own = this.#own(candidate);
      const stand = Object.entries(controls).every(([name, place]) => own.controls[name] === place);
      return stand && !Object.keys(values).length && !wish && !found;
    }

    #candidate(name) {
      return this.#sounds.flatMap(({ candidates }) => candidates).find((one) => one.name === name);
    }

    /**
     * Work out exactly, clipping and all, how loud the setting is and how long it clips, as it is and at unity; the
     * level follows. Nothing comes of it when something is turned meanwhile.
     */
    async settle() {
      const { number, input, wanted } = this.#turn;
      const exact = await this.#exactly(this.#turn);
      const unity = this.#unity(wanted, input);
      const atUnity = unity === null ? null : await this.#exactly(this.#worked({ ...wanted, controls: { ...wanted.controls, volume: unity } }));
      if (this.#turn.number !== number) return;
      this.#begin({ ...this.#turn, lufs: exact.lufs ?? this.#turn.lufs });
      Object.assign(this.#turn, { settled: { at_limit_share: exact.share, unity, at_limit_share_unity: atUnity?.share ?? null } });
      this.dispatchEvent(new Event('settled'));
    }

    async #exactly({ input, message }) {
      const fullScale = this.#take.full_scale_volts;
      const samples = await sublatch.liveNode.whole(this.#sounds[input], { ...message, gain: 1 / fullScale });
      const [low, high] = message.limits.map((limit) => AT_LIMIT * limit / fullScale);
      const over = samples.reduce((count, sample) => count + (sample >= high || sample <= low ? 1 : 0), 0);
      return { lufs: sublatch.loudness.measured(samples, this.#context.sampleRate), share: over / samples.length };
    }

    // Where the volume makes the effect as loud as the bypassed take, if no supply limited it; full turn where beyond.
    #unity(wanted, input) {
      const { bypassed_lufs: bypassed } = this.#take;
      if (bypassed === null || this.#sounds[input].loudness === null) return null;
      let [low, high] = [0, FULL_TURN];
      for (let i = 0; i < HALVINGS; i += 1) {
        const volume = i ? (low + high) / 2 : FULL_TURN;
        const { lufs } = this.#worked({ ...wanted, controls: { ...wanted.controls, volume } });
        if (i === 0 && (lufs === null || lufs < bypassed)) return FULL_TURN;
        if (lufs === null || lufs < bypassed) low = volume;
        else high = volume;
      }
      return (low + high) / 2;
    }

    /** Gain of the output filter in dB over frequency, its corner and its peak, as it is set. */
    response() {
      const { elements, circuit } = this.#turn;
      return sublatch.response.figures(elements, circuit.filtered);
    }

    /** Loudness of the circuit's output before matching, and the gain that matches it. */
    level() {
      const { lufs } = this.#turn;
      return { lufs, gain_db: this.#gainDb(this.#turn) };
    }

    #powers({ space, input }) {
      return sublatch.soundBands.cellPowers(this.#sounds[input].cells, sublatch.response.spaceGains(space));
    }

    /** Weight, body and bite against the bypassed take, in dB, and the bands above the bed; null without one. */
    balance() {
      const { cells } = this.#sounds[this.#turn.input];
      const powers = this.#powers(this.#turn);
      const [gain, own] = [this.#gainDb(this.#turn), cells.subarray(-3)];
      const [weight, body, bite] = sublatch.soundBands.balance(powers, own, gain - this.#take.gain_db);
      const { bed_db: bed } = this.#take;
      return { weight_db: weight, body_db: body, bite_db: bite, above_hz: bed && sublatch.soundBands.above(powers, bed, gain) };
    }

    /** Levels by thirds of an octave as they are played, of a full-scale sine, limits apart. @returns {number[]} */
    thirdsDb() {
      return sublatch.soundBands.thirdLevels(this.#powers(this.#turn), this.#gainDb(this.#turn));
    }

    /**
     * Where a set of parts that was found has the corner that is set now, so that it sounds alike: the tone knob's place.
     * @param {object} found
     * @returns {number}
     */
    toneFor(found) {
      const { corner_hz: wanted } = this.response();
      if (!wanted) return this.setting.controls.tone;
      let [low, high] = [0, FULL_TURN];
      for (let i = 0; i < HALVINGS; i += 1) {
        const tone = (low + high) / 2;
        const setting = this.#wanted({ wish: null, found, controls: { tone } });
        const { circuit, elements } = this.#elements(setting);
        if ((sublatch.response.figures(elements, circuit.filtered).corner_hz ?? Infinity) < wanted) low = tone;
        else high = tone;
      }
      return Math.round(5 * (low + high)) / 10;
    }

    /** The tone knob's steepest step, in octaves, and where it begins; null without a knob or a corner. */
    steepest() {
      const { wanted } = this.#turn;
      if (!this.#swept(wanted)) return null;
      return sublatch.soundBands.steepest((tone) => {
        const turned = this.#elements({ ...wanted, controls: { ...wanted.controls, tone } });
        return sublatch.response.figures(turned.elements, turned.circuit.filtered).corner_hz;
      });
    }

    /**
     * Where the tone knob and the peak switch make what is set sound nearest to another setting, the rest as it stands.
     * @param {Change} other
     * @returns {{tone: number, peak: string | null, difference_db: number} | null} null without a tone knob
     */
    nearest(other) {
      const { wanted } = this.#turn;
      if (!this.#swept(wanted)) return null;
      const thirds = (/** @type {any} */ setting) => sublatch.soundBands.thirds(this.#powers(this.#spaced(setting)));
      const asked = thirds(this.#wanted({ ...other, fresh: true }));
      const peaks = sublatch.wish.controlled(wanted.controls).peak && (wanted.wish || wanted.found || wanted.controls.peak !== null) ? ['flat', 'peaked'] : [null];
      return sublatch.soundBands.nearest(({ tone, peak }) => (
        sublatch.soundBands.difference(thirds({ ...wanted, controls: { ...wanted.controls, tone, peak } }), asked)), peaks);
    }

    #swept({ controls, wish, found }) { return Boolean(wish || found || controls.tone !== null); }

    /** All that is told of the setting; `settled` is null until it is. */
    figures() {
      const { frequency_hz: _, gain_db: __, ...figures } = this.response();
      return { ...figures, ...this.level(), overload: this.#share, settled: this.#turn.settled ?? null };
    }

    /**
     * A node that makes the sound, at rest, with an input of two channels for each of `buffers`.
     * @returns {AudioWorkletNode}
     */
    node() {
      if (!this.#turn) this.set({});
      const node = sublatch.liveNode.node(this.#context, this.#sounds, this.#waiting);
      node.port.onmessage = ({ data }) => this.#heard(data);
      this.#nodes.add(node);
      return node;
    }

    /** Let a node go. @param {AudioWorkletNode} node */
    release(node) {
      node.port.postMessage('end');
      node.disconnect();
      this.#nodes.delete(node);
    }

    #heard(data) {
      if (data.frames) this.#share = data.over / data.frames;
      this.dispatchEvent(data.frames ? new Event('overload') : new CustomEvent('heard', { detail: data }));
    }
  }

  /**
   * Make a take's own sound.
   * @param {BaseAudioContext} context at the take's rate
   * @param {{live: any, sample_rate: number}} take from the page's data
   * @param {any} told the page's `live`: circuits, and a filter that parts can be found for
   * @returns {Promise<Live>}
   */
  async function createLive(context, take, told) {
    const sounds = Promise.all(take.live.sounds.map(async (each) => {
      const [[buffer], bands] = await Promise.all([
        sublatch.sounds.load([each.carrier], take.sample_rate, () => {}), sublatch.sounds.data(each.bands),
      ]);
      const all = new Float32Array(bands.buffer, bands.byteOffset, bands.byteLength / 4);
      const figures = all.subarray(0, -sublatch.soundBands.COUNT);
      return { ...each, buffer, cells: all.subarray(-sublatch.soundBands.COUNT), loudness: figures.length ? new sublatch.Loudness(figures) : null };
    }));
    const [ready] = await Promise.all([sounds, sublatch.liveNode.ready(context)]);
    return new Live(context, take.live, told, ready);
  }

  globalThis.sublatch ??= {};
  sublatch.createLive = createLive;
})();
