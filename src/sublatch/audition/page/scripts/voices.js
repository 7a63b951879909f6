'use strict';

// All candidates of a take sounding in step, one of them heard, through the voicing or plain, with the bed or without.
// Everything is started at one sample and only gains move, so that a switch cannot be out of place; the same graph is
// made for hearing and for rendering.
(() => {
  const SWITCH_S = 0.01; // straight crossfade from one sound to another: the two gains add up to 1
  const EDGE_S = 0.005; // fade where playing begins or ends, and on either side of a loop's seam

  function ratio(decibels) {
    return 10 ** ((decibels ?? 0) / 20);
  }

  function fade(gain, from, to, at_s, seconds) {
    gain.setValueAtTime(from, at_s);
    gain.linearRampToValueAtTime(to, at_s + seconds);
  }

  // Sounds that run in step, one of them heard at its level. They begin softly and come round a loop softly before
  // anything is done to them, so that no click goes into a loudspeaker and rings on.
  class Path {
    // Times are in the context's seconds for `starts`, in the take's for `first` and `loop`; `envelope` is the gain
    // around the loop's seam.
    constructor({ context, buffers, levels, chosen, starts, first, loop, envelope }) {
      Object.assign(this, { levels, chosen });
      this.edge = new GainNode(context, { gain: 0 });
      this.end = new GainNode(context, { gain: loop ? 0 : 1 });
      this.gains = buffers.map((_, i) => new GainNode(context, { gain: i === chosen ? levels[i] : 0 }));
      const around = loop ? { loop: true, loopStart: loop[0], loopEnd: loop[1] } : {};
      this.sources = buffers.flatMap((buffer, i) => (buffer ? [this.source(context, { buffer, ...around }, i)] : []));
      this.edge.connect(this.end);
      for (const source of this.sources) source.start(starts, first);
      fade(this.edge.gain, 0, 1, starts, EDGE_S);
      if (!loop) return;
      const seam = new AudioBufferSourceNode(context, { buffer: envelope, loop: true });
      seam.connect(this.end.gain);
      seam.start(starts, first - loop[0]);
      this.sources.push(seam);
    }

    source(context, options, i) {
      const source = new AudioBufferSourceNode(context, options);
      source.connect(this.gains[i]).connect(this.edge);
      return source;
    }

    // One more sound to choose, that is there already; null for one that is not chosen.
    add(source, level) {
      const gain = new GainNode(this.edge.context, { gain: this.chosen === this.gains.length ? level : 0 });
      source?.connect(gain).connect(this.edge);
      this.gains.push(gain);
      this.levels.push(level);
    }

    switchTo(index, at_s) {
      fade(this.gains[this.chosen].gain, this.levels[this.chosen], 0, at_s, SWITCH_S);
      fade(this.gains[index].gain, 0, this.levels[index], at_s, SWITCH_S);
      this.chosen = index;
    }
  }

  class Voices {
    // Times are in the context's seconds for `at_s`, in the take's for `from_s` and `loop` ([start, end] or null).
    // `response` and `bed` are what the take's voicing and bed sound like, null without; `heard` says which are on. A
    // buffer that is null is a sound that cannot be had; it is not chosen.
    // `lives` are sounds that the page makes itself, numbered after all others; null for one that is not there.
    constructor({ context, take, buffers, response = null, bed = null, lives = [], heard, chosen, at_s, from_s, loop }) {
      this.context = context;
      this.rate = context.sampleRate;
      this.length = Math.min(this.whole(take.seconds), ...buffers.filter(Boolean).map((buffer) => buffer.length));
      this.loop = loop && loop.map((time) => Math.min(this.whole(time), this.length));
      this.first = this.whole(from_s);
      if (this.loop && (this.first < this.loop[0] || this.first >= this.loop[1])) [this.first] = this.loop;
      this.starts = this.whole(at_s);
      this.late = response ? this.whole(take.voicing.ahead_s) : 0; // what is convolved comes so much later
      Object.assign(this, { chosen, heard });
      this.settled_s = this.turned_s = this.starts / this.rate;
      this.out = new GainNode(context, { gain: 1 });
      this.level = new GainNode(context, { gain: ratio(take.gain_db) }); // one for the whole take, never above 1
      this.out.connect(this.level).connect(context.destination);
      this.envelope = this.loop && this.seam();
      this.connect({ take, buffers, response, bed });
      this.own = [];
      for (const live of lives) this.join(live);
    }

    whole(time) {
      return Math.round(time * this.rate);
    }

    // How late all is heard, in seconds.
    get late_s() {
      return this.late / this.rate;
    }

    // What is not convolved waits for what is. A voiced candidate is its file; a plain one may need another gain.
    connect({ take, buffers, response, bed }) {
      const levels = buffers.map((_, i) => ratio(take.candidates[i].offset_db?.plain));
      this.plain = this.path({ buffers, levels, chosen: this.chosen, late: this.late });
      this.taps = { plain: this.tap(this.plain.end, 1, !response || !this.heard.voicing) };
      this.paths = [this.plain];
      if (response) {
        this.voiced = this.path({ buffers, levels: buffers.map(() => 1), chosen: this.chosen, late: 0 });
        const loudspeaker = new ConvolverNode(this.context, { disableNormalization: true, buffer: response });
        this.voiced.end.connect(loudspeaker);
        this.taps.voicing = this.tap(loudspeaker, ratio(take.voicing.gain_db), this.heard.voicing);
        this.paths.push(this.voiced);
      }
      if (bed) {
        this.paths.push(this.path({ buffers: [bed], levels: [ratio(take.bed.gain_db)], chosen: 0, late: this.late }));
        this.taps.bed = this.tap(this.paths.at(-1).end, 1, this.heard.bed);
      }
    }

    join(live) {
      if (!live) {
        for (const path of [this.plain, this.voiced]) path?.add(null, 1);
        return;
      }
      const [loop, first] = [this.loop?.map((frame) => frame / this.rate) ?? null, this.first / this.rate];
      const { context } = this;
      const own = new sublatch.LiveSource({ context, live, starts_s: this.starts / this.rate, first_s: first, loop });
      const waits = new DelayNode(context, { delayTime: this.late_s, maxDelayTime: this.late_s + 1 });
      own.connect(waits);
      this.plain.add(waits, 1);
      this.voiced?.add(own, 1);
      this.paths.push(own);
      this.own.push(own);
    }

    path({ late, ...sounds }) {
      const [loop, first] = [this.loop?.map((frame) => frame / this.rate), this.first / this.rate];
      const starts = (this.starts + late) / this.rate;
      return new Path({ context: this.context, starts, first, loop, envelope: this.envelope, ...sounds });
    }

    // A gain before everything comes together, with what it is when it is on.
    tap(from, level, on) {
      const node = new GainNode(this.context, { gain: on ? level : 0 });
      from.connect(node).connect(this.out);
      return { gain: node.gain, level, on };
    }

    // The gain around a loop's seam is itself a sound that loops in step, so that no timer has to be on time.
    seam() {
      const [start, end] = this.loop;
      const buffer = new AudioBuffer({ length: end - start, sampleRate: this.rate });
      const gain = buffer.getChannelData(0).fill(1);
      const edge = Math.min(this.whole(EDGE_S), Math.floor(gain.length / 2));
      for (let i = 0; i < edge; i += 1) gain[i] = gain[gain.length - 1 - i] = i / edge;
      return buffer;
    }

    // Hear another candidate from a time on, as late as all is. A switch that is under way is finished first.
    switchTo(index, at_s) {
      if (index === this.chosen) return;
      const begin = this.whole(Math.max(at_s, this.settled_s)) / this.rate;
      this.plain.switchTo(index, begin + this.late_s);
      this.voiced?.switchTo(index, begin);
      this.settled_s = begin + SWITCH_S;
      this.chosen = index;
    }

    // Turn the voicing or the bed on or off from a time on.
    hear(heard, at_s) {
      this.heard = { ...this.heard, ...heard };
      const wanted = { ...this.heard, plain: !this.taps.voicing || !this.heard.voicing };
      const turned = Object.entries(this.taps).filter(([name, { on }]) => on !== wanted[name]);
      if (!turned.length) return;
      const begin = this.whole(Math.max(at_s, this.turned_s)) / this.rate;
      for (const [, tap] of turned) {
        fade(tap.gain, tap.on ? tap.level : 0, tap.on ? 0 : tap.level, begin, SWITCH_S);
        tap.on = !tap.on;
      }
      this.turned_s = begin + SWITCH_S;
    }

    // Where in the take the sound is at a time of the context, in seconds.
    timeAt(at_s) {
      const frame = this.first + Math.max(0, at_s * this.rate - this.starts - this.late);
      if (!this.loop) return Math.min(frame, this.length) / this.rate;
      const [start, end] = this.loop;
      return (frame < end ? frame : start + ((frame - start) % (end - start))) / this.rate;
    }

    get over() {
      return !this.loop && this.timeAt(this.context.currentTime) >= this.length / this.rate;
    }

    stop(at_s) {
      const begin = Math.max(at_s, (this.starts + this.late) / this.rate + EDGE_S);
      fade(this.out.gain, 1, 0, begin, EDGE_S);
      for (const { sources } of this.paths) for (const source of sources) source.stop(begin + EDGE_S);
      this.paths.flatMap(({ sources }) => sources)[0].addEventListener('ended', () => {
        this.out.disconnect();
        this.level.disconnect();
        for (const own of this.own) own.end();
      });
    }
  }

  globalThis.sublatch ??= {};
  sublatch.Voices = Voices;
})();
