'use strict';

// All candidates of a take sounding in step, one of them heard. They are started together at one sample and only their
// gains move, so that a switch cannot be out of place; the same graph is made for hearing and for rendering.
(() => {
  const SWITCH_S = 0.01; // straight crossfade from one candidate to another: the two gains add up to 1
  const EDGE_S = 0.005; // fade where playing begins or ends, and on either side of a loop's seam

  class Voices {
    // Times are in the context's seconds for `at_s`, in the take's for `from_s` and `loop` ([start, end] or null).
    constructor({ context, buffers, chosen, at_s, from_s, loop }) {
      this.context = context;
      this.rate = context.sampleRate;
      this.length = Math.min(...buffers.map((buffer) => buffer.length));
      this.loop = loop && loop.map((time) => Math.min(this.whole(time), this.length));
      this.first = this.whole(from_s);
      if (this.loop && (this.first < this.loop[0] || this.first >= this.loop[1])) [this.first] = this.loop;
      this.starts = this.whole(at_s);
      this.chosen = chosen;
      this.settled_s = this.starts / this.rate;
      this.connect(buffers);
    }

    whole(time) {
      return Math.round(time * this.rate);
    }

    connect(buffers) {
      this.edge = new GainNode(this.context, { gain: 0 });
      this.seam = new GainNode(this.context, { gain: this.loop ? 0 : 1 });
      this.edge.connect(this.seam).connect(this.context.destination);
      this.gains = buffers.map((_, i) => new GainNode(this.context, { gain: i === this.chosen ? 1 : 0 }));
      this.sources = buffers.map((buffer) => this.source(buffer));
      this.sources.forEach((source, i) => source.connect(this.gains[i]).connect(this.edge));
      if (this.loop) this.connectSeam();
      for (const source of this.sources) source.start(this.starts / this.rate, this.first / this.rate);
      this.fade(this.edge.gain, 0, 1, this.starts / this.rate, EDGE_S);
    }

    source(buffer) {
      if (!this.loop) return new AudioBufferSourceNode(this.context, { buffer });
      const [loopStart, loopEnd] = this.loop.map((frame) => frame / this.rate);
      return new AudioBufferSourceNode(this.context, { buffer, loop: true, loopStart, loopEnd });
    }

    // The gain around a loop's seam is itself a sound that loops in step, so that no timer has to be on time.
    connectSeam() {
      const [start, end] = this.loop;
      const buffer = new AudioBuffer({ length: end - start, sampleRate: this.rate });
      const gain = buffer.getChannelData(0).fill(1);
      const edge = Math.min(this.whole(EDGE_S), Math.floor(gain.length / 2));
      for (let i = 0; i < edge; i += 1) gain[i] = gain[gain.length - 1 - i] = i / edge;
      this.envelope = new AudioBufferSourceNode(this.context, { buffer, loop: true });
      this.envelope.connect(this.seam.gain);
      this.envelope.start(this.starts / this.rate, (this.first - start) / this.rate);
    }

    fade(gain, from, to, at_s, seconds) {
      gain.setValueAtTime(from, at_s);
      gain.linearRampToValueAtTime(to, at_s + seconds);
    }

    // Hear another candidate from a time on. A switch that is under way is finished first.
    switchTo(index, at_s) {
      if (index === this.chosen) return;
      const begin = this.whole(Math.max(at_s, this.settled_s)) / this.rate;
      this.fade(this.gains[this.chosen].gain, 1, 0, begin, SWITCH_S);
      this.fade(this.gains[index].gain, 0, 1, begin, SWITCH_S);
      this.settled_s = begin + SWITCH_S;
      this.chosen = index;
    }

    // Where in the take the sound is at a time of the context, in seconds.
    place(at_s) {
      const frame = this.first + Math.max(0, at_s * this.rate - this.starts);
      if (!this.loop) return Math.min(frame, this.length) / this.rate;
      const [start, end] = this.loop;
      return (frame < end ? frame : start + ((frame - start) % (end - start))) / this.rate;
    }

    get over() {
      return !this.loop && this.place(this.context.currentTime) >= this.length / this.rate;
    }

    stop(at_s) {
      const begin = Math.max(at_s, this.starts / this.rate + EDGE_S);
      this.fade(this.edge.gain, 1, 0, begin, EDGE_S);
      for (const source of this.all) source.stop(begin + EDGE_S);
      this.sources[0].addEventListener('ended', () => this.seam.disconnect());
    }

    get all() {
      return this.envelope ? [...this.sources, this.envelope] : this.sources;
    }
  }

  globalThis.sublatch ??= {};
  sublatch.Voices = Voices;
})();
