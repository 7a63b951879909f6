'use strict';

// The page's controls, each tied to the player of its take; one take plays at a time. Without Web Audio, or when the
// sounds beside the page are missing, the page stays as it is without scripts: tables and a player for each file.
(() => {
  const MOST_KEPT_BYTES = 150e6; // sounds of takes that are not playing are let go past this
  const IDLE_MS = 1500;
  const contexts = new Map();
  const takes = [];
  let active = null;

  function context(rate) {
    if (!contexts.has(rate)) contexts.set(rate, new AudioContext({ sampleRate: rate }));
    return contexts.get(rate);
  }

  function live() {
    return document.documentElement.classList.contains('live');
  }

  function say(text) {
    document.querySelector('.aside').textContent = text;
  }

  class Take {
    constructor(section, data) {
      Object.assign(this, { section, data, here_s: 0, before: 0, waiting: false });
      this.player = new sublatch.Player({ take: data, context: () => context(data.sample_rate) });
      this.entries = [...section.querySelectorAll('.choice')].map((box) => this.entry(box));
      this.connect();
      const lanes = this.section.querySelector('.lanes');
      const start = (time, play) => this.startFrom(time, play);
      const description = () => this.positions();
      this.marks = lanes && new sublatch.Marks({ lanes, player: this.player, start, description });
      this.show();
      sublatch.livePanel.connect(section, this.player, () => context(data.sample_rate));
    }

    // One line to choose by; a sweep's has a slider, which chooses among its candidates.
    entry(box) {
      const [radio, slider] = box.querySelectorAll('input');
      const numbers = box.dataset.entry.split(' ').map(Number);
      const entry = { box, radio, slider, numbers, key: box.dataset.key };
      radio.addEventListener('change', () => this.choose(entry));
      slider?.addEventListener('input', () => this.choose(entry));
      return entry;
    }

    connect() {
      const { player, section } = this;
      const on = { play: () => this.toggle(), here: () => this.startFrom(this.here_s, true), loop: () => this.toggleLoop() };
      for (const button of section.querySelectorAll('[data-do]')) button.addEventListener('click', on[button.dataset.do]);
      this.section.addEventListener('pointerdown', () => { active = this; });
      this.section.addEventListener('focusin', () => { active = this; });
      player.addEventListener('time', () => this.tellTime());
      player.addEventListener('state', () => this.tellState());
      player.addEventListener('loaded', () => this.tellState());
      player.addEventListener('chosen', () => this.show());
      player.addEventListener('loop', () => this.tellLoop());
      sublatch.monitoring.connect(section, player);
    }

    choose(entry) {
      active = this;
      const index = entry.numbers[entry.slider ? Number(entry.slider.value) : 0];
      if (index === this.player.chosen && !this.player.own) return;
      this.before = this.player.chosen;
      this.player.choose(index);
    }

    chooseBy(digit) {
      const entry = this.entries.find(({ key: own }) => own === digit);
      return entry ? this.choose(entry) : false;
    }

    show() {
      const { chosen } = this.player;
      for (const { box, radio, slider, numbers } of this.entries) {
        const position = numbers.indexOf(chosen);
        radio.checked = position >= 0;
        box.classList.toggle('heard', position >= 0);
        if (slider && position >= 0) this.tellSweep(box, slider, position, this.data.candidates[chosen].sweep);
      }
      const { section, before, data: { candidates } } = this;
      const spoken = sublatch.chosen.show({ section, candidates, index: chosen, before });
      this.tellTime();
      this.marks?.showTime();
      if (active) say(spoken);
    }

    tellSweep(box, slider, index, { label, position }) {
      slider.value = index;
      slider.setAttribute('aria-valuetext', `${label} ${position}`);
      box.querySelector('.position').textContent = ` ${position}`;
    }

    tellTime() {
      sublatch.chosen.put(this.section, 'time', this.player.time.toFixed(1));
      sublatch.chosen.put(this.section, 'stands', this.positions());
    }

    // Where the controls stand that are moved in what is heard.
    positions() {
      return sublatch.moves.description(this.data.candidates[this.player.chosen].moves, this.player.time);
    }

    turn(kind) {
      const spoken = sublatch.monitoring.turn(this.section, this.player, kind);
      if (spoken) say(spoken);
    }

    tellState() {
      this.section.querySelector('[data-do="play"]').textContent = this.player.playing || this.waiting ? 'Pause' : 'Play';
      this.section.classList.toggle('playing', this.player.playing);
      this.section.classList.toggle('ready', this.player.loaded);
      this.tellTime();
      setTimeout(rest, IDLE_MS);
    }

    tellLoop() {
      const { loop } = this.player;
      this.lastLoop = loop ?? this.lastLoop;
      this.section.querySelector('[data-do="loop"]').setAttribute('aria-pressed', String(Boolean(loop)));
      if (active === this) say(loop ? `Loop from ${loop[0].toFixed(2)} to ${loop[1].toFixed(2)} seconds` : 'Loop off');
    }

    toggle() {
      if (this.player.playing || this.waiting) this.pause();
      else this.play();
    }

    toggleLoop() {
      if (this.player.loop) this.player.clearLoop();
      else this.player.setLoop(...(this.lastLoop ?? [0, this.data.seconds]));
    }

    pause() {
      this.waiting = false;
      this.player.pause();
      this.tellState();
    }

    async play() {
      active = this;
      hush(this);
      context(this.data.sample_rate).resume(); // now, since it was asked for now
      this.waiting = true;
      this.tellState();
      if (!await this.load() || !this.waiting) return;
      this.waiting = false;
      this.player.play();
    }

    async load() {
      makeRoom(this);
      const onProgress = (done, all) => this.getting(done < all ? `Getting the sounds ready: ${done} of ${all}` : '');
      try {
        await this.player.load(onProgress);
        return true;
      } catch (problem) {
        this.pause();
        this.getting('');
        this.section.querySelector('.trouble').textContent = `This take cannot be played here: ${problem.message}. `
          + 'The files can be played one by one below.';
        document.documentElement.classList.remove('live');
        return false;
      }
    }

    getting(text) {
      sublatch.chosen.put(this.section, 'getting', text);
    }

    startFrom(time, play = false) {
      this.here_s = time;
      this.marks?.showHere(time);
      this.player.seek(time);
      if (play && !this.player.playing) this.play();
    }
  }

  function hush(except = null) {
    for (const take of takes) if (take !== except && (take.player.playing || take.waiting)) take.pause();
    for (const audio of document.querySelectorAll('audio')) audio.pause();
  }

  // Let go of other takes' sounds where all together would be too much.
  function makeRoom(wanted) {
    let { bytes } = wanted.player;
    for (const take of takes) {
      if (take === wanted || !take.player.loaded) continue;
      bytes += take.player.bytes;
      if (bytes > MOST_KEPT_BYTES && !take.player.playing) take.player.unload();
    }
  }

  // Nothing plays: let the sound card rest.
  function rest() {
    if (takes.some(({ player, waiting }) => player.playing || waiting)) return;
    for (const each of contexts.values()) each.suspend();
  }

  function key(event) {
    const take = active ?? takes[0];
    if (sublatch.keys.held(event) || event.repeat || !take || !live()) return;
    if (event.target.matches('input:not([type=radio], [type=range], [type=checkbox]), select, textarea, audio')) return;
    sublatch.keys.dispatch(event, sublatch.keys.TAKE, {
      play: () => !event.target.matches('button, summary, a, [type=checkbox]') && take.toggle(),
      loop: () => take.toggleLoop(),
      here: () => take.startFrom(take.here_s, true),
      turn: (kind) => take.turn(kind),
      choose: (digit) => take.chooseBy(digit),
    });
  }

  function start() {
    const { takes: data } = JSON.parse(document.getElementById('audition').textContent);
    for (const board of document.querySelectorAll('.board')) {
      takes.push(new Take(board.closest('.take'), data[board.dataset.take]));
    }
    if (!takes.length) return;
    document.documentElement.classList.add('live');
    document.addEventListener('keydown', key);
    document.addEventListener('sublatch-hush', () => hush());
    document.addEventListener('play', (event) => {
      for (const audio of document.querySelectorAll('audio')) if (audio !== event.target) audio.pause();
      for (const take of takes) if (take.player.playing || take.waiting) take.pause();
    }, { capture: true });
    takes[0].load();
  }

  if (globalThis.AudioContext && globalThis.OfflineAudioContext) start();
})();
