'use strict';

// One take of the page: its player, tied to its list, its lanes, its pictures and its verdicts.
(() => {
  const BEFORE_DROPOUT_S = 0.5; // a dropout is heard with what leads up to it

  const SAID = { keep: 'is kept', maybe: 'is a maybe', out: 'is out', '': 'has no verdict' };

  class Take extends sublatch.TakeSounds {
    /**
     * @param {{section: HTMLElement, data: Object, context: () => AudioContext, desk: Object}} given `desk` is what all
     *   takes share: verdicts, letters (null while names are shown), and what they ask of the page.
     */
    constructor({ section, data, context, desk }) {
      super({ section, data, context, told: desk.audition.live ?? null });
      Object.assign(this, { desk, here_s: 0, before: 0, slot: 0, waiting: false });
      this.list = new sublatch.List({ section, take: data, choose: (index) => this.choose(index),
        verdictOf: (index) => desk.verdicts.of(data, this.all[index]).verdict });
      this.connect();
      this.addMarks();
      this.show();
    }

    connect() {
      const { player, section, desk } = this;
      const on = {
        play: () => this.toggle(), here: () => this.startFrom(this.here_s, true), loop: () => this.toggleLoop(),
        swap: () => this.swap(), next: () => this.step(1), note: () => this.loopNote(), dropout: () => this.nextDropout(),
        closer: () => this.zoomBy(1), wider: () => this.zoomBy(-1),
      };
      for (const button of section.querySelectorAll('[data-do]')) button.addEventListener('click', on[button.dataset.do]);
      for (const button of section.querySelectorAll('.verdict [data-verdict]')) {
        button.addEventListener('click', () => this.decide(button.dataset.verdict));
      }
      this.note = section.querySelector('[data-note]');
      this.note.addEventListener('input', () => this.noted());
      this.note.addEventListener('keydown', (event) => event.key === 'Enter' && this.note.blur());
      const told = { time: () => this.tellTime(), state: () => this.tellState(), chosen: () => this.show(), loop: () => this.tellLoop() };
      for (const [kind, tell] of Object.entries(told)) player.addEventListener(kind, tell);
      player.addEventListener('loaded', () => {
        this.list.takeAway(this.tellLost());
        this.tellState();
      });
      section.querySelector('.blind')?.addEventListener('sublatch-begin', ({ detail }) => {
        detail.loop = this.player.loop;
        if (!desk.letters) detail.pair = [this.before, this.player.chosen].map((at) => this.all[at]?.base ?? at); // the trial's list would tell their names
      });
      sublatch.monitoring.connect(section, player);
      this.panel = sublatch.livePanel?.connect({ section, player, context: this.context, own: desk.own,
        turned: (setting) => this.turnedByHand(setting), keep: (name) => this.keepOwn(name) }) ?? null;
      sublatch.views.connect(section);
    }

    addMarks() {
      const [roll, lanes] = ['.roll', '.lanes'].map((kind) => this.section.querySelector(kind));
      if (!lanes) return;
      const { player } = this;
      this.marks = new sublatch.Marks({ lanes, player, description: () => this.positions(),
        start: (time, play) => this.startFrom(time, play) });
      this.zoom = new sublatch.Zoom({ roll, lanes, seconds: this.data.seconds });
    }

    /** The candidates, then what was set by hand. */
    get all() {
      return [...this.data.candidates, ...this.desk.own.candidates(this.data)];
    }

    /** The number of what is heard among all. */
    get index() {
      return this.player.own ? this.data.candidates.length + this.slot : this.player.chosen;
    }

    /** The candidate that is heard. */
    get heard() {
      return this.all[this.index];
    }

    // What there is to choose by: the list, or letters while names are hidden.
    get lines() {
      return this.letterLines ?? this.list;
    }

    choose(index) {
      const { before, index: now } = this;
      if (index === now) return null;
      this.before = now;
      if (index >= this.data.candidates.length) return this.chooseOwn(index - this.data.candidates.length);
      this.player.choose(index);
      this.panel?.follow(this.data.candidates[index].name);
      if (this.index === index) return null;
      this.before = before; // a sound that cannot be had is not heard
      return this.show();
    }

    // Hear what was set by hand, as it was set.
    async chooseOwn(slot) {
      const entry = this.desk.own.entries[slot];
      if (!entry || !await this.panel?.recall(entry.setting)) return this.show();
      this.slot = slot;
      this.player.hearOwn(true);
      return this.show();
    }

    // Something was turned: that is heard, and stands in the list by itself.
    turnedByHand(setting) {
      const { own } = this.desk;
      const { index } = this;
      own.hand = setting;
      this.slot = own.kept.length;
      if (index !== this.index || !this.player.own) this.before = index;
      this.player.hearOwn(true);
      this.desk.showOwn();
    }

    // What is set by hand becomes a candidate with a name, kept on this take.
    keepOwn(name, verdict = 'keep') {
      const { own, verdicts } = this.desk;
      if (!own.hand) return this.desk.say('Turn something first.');
      const parts = own.hand.wish ? ' Its filter has no parts yet: find some here, or with sublatch choose.' : '';
      this.slot = own.keep(name || own.suggested(own.hand));
      verdicts.set(this.data, this.heard, { verdict });
      this.desk.showOwn();
      return this.desk.say(`${this.heard.name} ${SAID[verdict]} on ${this.data.name}.${parts}`);
    }

    // What was heard on another take is heard on this one too.
    carryOver({ chosen, index, before }) {
      this.before = before;
      this.player.choose(chosen);
      if (index >= this.data.candidates.length) this.chooseOwn(index - this.data.candidates.length);
      this.show();
    }

    swap() {
      this.choose(this.before);
    }

    step(by) {
      this.lines.step(by, this.index);
    }

    show() {
      const { section, index, all, desk: { letters } } = this;
      this.before = this.before in all ? this.before : 0;
      this.list.showOwn(all.slice(this.data.candidates.length), this.data.candidates.length);
      this.list.show(index);
      this.letterLines?.show(index);
      const spoken = sublatch.chosen.show({ section, candidates: all, index, before: this.before, letters });
      this.panel?.tellOwn(this.heard, this.before >= this.data.candidates.length);
      this.showVerdict();
      this.tellTime();
      this.marks?.showTime();
      if (this.desk.isActive(this)) this.desk.say(spoken, false); // it is to be seen above
    }

    showVerdict() {
      const { letters, verdicts } = this.desk;
      const { verdict, note, sound } = verdicts.of(this.data, this.heard);
      const isEarlier = Boolean(sound) && sound !== this.heard.digest && !letters;
      sublatch.chosen.put(this.section, 'earlier', isEarlier ? 'Decided before it was rendered anew.' : '');
      const shown = letters ? letters.verdictOf(this.data.name, this.index) : verdict;
      for (const button of this.section.querySelectorAll('.verdict [data-verdict]')) {
        button.setAttribute('aria-pressed', String(button.dataset.verdict === shown));
      }
      if (document.activeElement !== this.note) this.note.value = letters ? letters.noteOf(this.data.name, this.index) : note;
      this.list.showMarks();
      this.letterLines?.show(this.index);
    }

    // Keep, maybe or out; the same once more takes it back.
    decide(verdict) {
      const { letters, verdicts } = this.desk;
      if (this.heard.isLoose) return this.keepOwn('', verdict);
      const old = letters ? letters.verdictOf(this.data.name, this.index) : verdicts.of(this.data, this.heard).verdict;
      const next = old === verdict ? '' : verdict;
      letters?.setVerdict(this.data.name, this.index, next);
      verdicts.set(this.data, this.heard, { verdict: next });
      return this.desk.say(`${letters ? letters.of(this.index) : this.heard.name} ${SAID[next]} on ${this.data.name}.`);
    }

    // A note on what is set by hand gives it a name first.
    noted() {
      const { letters, verdicts } = this.desk;
      if (this.heard.isLoose) this.keepOwn('', '');
      if (this.heard.isLoose) return;
      const text = this.note.value.trim();
      const note = letters ? letters.setNote(this.data.name, this.index, text, verdicts.of(this.data, this.heard).note) : text;
      verdicts.set(this.data, this.heard, { note });
    }

    // Names behind letters, or shown again.
    setLetters(letters) {
      if (letters && !letters.has(this.before)) this.before = this.all[this.before]?.base ?? this.before;
      this.letterLines?.element.remove();
      this.letterLines = letters && new sublatch.LetterLines({ list: this.section.querySelector('.list'), take: this.data,
        letters, choose: (index) => this.choose(index), lost: new Set(this.player.lost.map(({ which }) => which)) });
      this.show();
    }

    tellTime() {
      const { time, playing } = this.player;
      sublatch.chosen.put(this.section, 'time', time.toFixed(1));
      sublatch.chosen.put(this.section, 'stands', this.positions());
      if (playing) this.zoom?.follow(time);
    }

    // Where the controls stand that are moved in what is heard.
    positions() {
      return this.desk.letters ? '' : sublatch.moves.description(this.heard.moves, this.player.time);
    }

    turn(kind) {
      const spoken = sublatch.monitoring.turn(this.section, this.player, kind);
      if (spoken) this.desk.say(spoken);
    }

    tellState() {
      this.section.querySelector('[data-do="play"]').textContent = this.player.playing || this.waiting ? 'Pause' : 'Play';
      this.section.classList.toggle('playing', this.player.playing);
      this.section.classList.toggle('ready', this.player.loaded);
      this.tellTime();
      this.desk.rest();
    }

    tellLoop() {
      const { loop } = this.player;
      this.lastLoop = loop ?? this.lastLoop;
      this.section.querySelector('[data-do="loop"]').setAttribute('aria-pressed', String(Boolean(loop)));
      if (this.desk.isActive(this)) {
        this.desk.say(loop ? `Loop from ${loop[0].toFixed(2)} to ${loop[1].toFixed(2)} seconds` : 'Loop off');
      }
    }

    toggle() {
      if (this.player.playing || this.waiting) this.pause();
      else this.play();
    }

    toggleLoop() {
      if (this.player.loop) this.player.clearLoop();
      else this.player.setLoop(...(this.lastLoop ?? [0, this.data.seconds]));
    }

    // Loop the note that sounds, or the one that comes next.
    loopNote() {
      const { time } = this.player;
      const note = this.data.notes?.find(({ end_s: end }) => end > time);
      if (!note) return this.desk.say('There is no note from here on.');
      this.player.setLoop(note.start_s, note.end_s);
      if (time < note.start_s) this.player.seek(note.start_s);
      return this.desk.say(`${note.name} over and over, from ${note.start_s.toFixed(2)} to ${note.end_s.toFixed(2)} seconds`);
    }

    nextDropout() {
      const dropouts = this.heard.dropouts ?? [];
      if (!dropouts.length) return this.desk.say('What you hear has no dropout on this take.');
      const { jumped, player: { time, chosen } } = this;
      const isThere = jumped?.chosen === chosen && time > jumped.from_s - 0.01;
      let at = dropouts.findIndex(({ start_s: start }) => start > time);
      if (isThere && at >= 0 && at <= jumped.at) at = jumped.at + 1; // the one gone to last may not have come yet
      at = at in dropouts ? at : 0;
      const { start_s: start, kind } = dropouts[at];
      const from = Math.max(start - BEFORE_DROPOUT_S, 0);
      this.jumped = { chosen, at, from_s: from };
      if (this.player.loop) this.player.clearLoop();
      this.startFrom(from);
      this.zoom?.follow(start);
      return this.desk.say(`${kind} at ${start.toFixed(2)} seconds, ${at + 1} of ${dropouts.length}`);
    }

    zoomBy(step) {
      this.zoom?.by(step, this.player.time);
    }

    pause() {
      this.waiting = false;
      this.player.pause();
      this.tellState();
    }

    async play() {
      this.desk.begin(this);
      this.waiting = true;
      this.tellState();
      const context = this.wake();
      if (!context || !await this.load(context) || !this.waiting) return this.pause();
      this.waiting = false;
      this.player.play();
      return this.listen(context);
    }

    load(context = null) {
      this.desk.makeRoom(this);
      return this.loadSounds(context);
    }

    startFrom(time, play = false) {
      this.here_s = time;
      this.marks?.showHere(time);
      this.player.seek(time);
      if (play && !this.player.playing) this.play();
    }
  }

  globalThis.sublatch ??= {};
  sublatch.Take = Take;
})();
