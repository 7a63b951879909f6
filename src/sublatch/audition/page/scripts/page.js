'use strict';

// The page as a desk: one take is shown and one plays at a time, with tools and keys for all of them. Without Web Audio
// the page stays as it is without scripts: tables and a player for each file.
(() => {
  const MOST_KEPT_BYTES = 150e6; // sounds of takes that are not playing are let go past this
  const IDLE_MS = 1500;
  const SEEN_MS = 5000; // how long what is said stays to be seen
  const root = document.documentElement;
  const contexts = new Map();

  function context(rate) {
    if (!contexts.has(rate)) contexts.set(rate, new AudioContext({ sampleRate: rate }));
    return contexts.get(rate);
  }

  class Desk {
    constructor(audition) {
      Object.assign(this, { audition, verdicts: new sublatch.Verdicts(), letters: null, takes: [], touched: false });
      this.own = new sublatch.Own({ store: this.verdicts, audition });
      const sections = [...document.querySelectorAll('.take')];
      for (const board of document.querySelectorAll('.board')) {
        const data = audition.takes[board.dataset.take];
        const section = board.closest('.take');
        this.takes.push(new sublatch.Take({ section, data, context: () => context(data.sample_rate), desk: this }));
      }
      this.verdicts.addEventListener('change', () => this.showVerdicts());
      this.connectTools();
      this.tabs = new sublatch.Tabs({ sections, shown: (place) => this.shown(sections[place]) });
      this.tabs.show(Math.max(sections.findIndex((section) => section === this.takes[0]?.section), 0));
      this.touched = true;
      this.showVerdicts();
    }

    /** The take that is shown; none where that one could not be used. */
    get take() {
      return this.takes.find(({ section }) => section.classList.contains('shown')) ?? null;
    }

    isActive(take) {
      return this.touched && take === this.take;
    }

    /** Say something, for a while to be seen too. @param {string} text @param {boolean} seen */
    say(text, seen = true) {
      const aside = document.querySelector('.aside');
      aside.textContent = text;
      aside.classList.toggle('seen', seen && Boolean(text));
      clearTimeout(this.fading);
      this.fading = setTimeout(() => aside.classList.remove('seen'), SEEN_MS);
    }

    // Another take is shown: it takes over what is heard, and goes on playing where the other did.
    shown(section) {
      const next = this.takes.find((take) => take.section === section);
      const last = this.last;
      if (!next || next === last) return;
      this.last = next;
      if (last) next.carryOver({ chosen: last.player.chosen, index: last.index, before: last.before });
      sublatch.views.show(section);
      document.dispatchEvent(new CustomEvent('sublatch-shown', { detail: { take: next.data, player: next.player } }));
      if (last?.player.playing || last?.waiting) next.play();
      else next.load();
    }

    // A take is about to play.
    begin(take) {
      this.hush(take);
      root.classList.add('started');
    }

    hush(except = null) {
      for (const take of this.takes) if (take !== except && (take.player.playing || take.waiting)) take.pause();
      for (const audio of document.querySelectorAll('audio')) audio.pause();
    }

    // Let go of other takes' sounds where all together would be too much.
    makeRoom(wanted) {
      let { bytes } = wanted.player;
      for (const { player } of this.takes.filter((take) => take !== wanted && take.player.loaded)) {
        bytes += player.bytes;
        if (bytes > MOST_KEPT_BYTES && !player.playing) player.unload();
      }
    }

    // Nothing plays: let the sound card rest.
    rest() {
      setTimeout(() => {
        if (this.takes.some(({ player, waiting }) => player.playing || waiting)) return;
        for (const each of contexts.values()) each.suspend();
      }, IDLE_MS);
    }

    connectTools() {
      const tools = {
        unnamed: () => this.turnNames(), trial: () => this.trial(), overview: () => this.overview(),
        save: () => this.save(), copy: () => this.copy(), drawer: () => this.turnDrawer(),
      };
      this.tools = Object.fromEntries([...document.querySelectorAll('[data-tool]')].map((one) => [one.dataset.tool, one]));
      for (const [name, button] of Object.entries(this.tools)) button.addEventListener('click', tools[name]);
      addEventListener('beforeunload', (event) => {
        if (this.verdicts.kept || this.verdicts.saved) return;
        event.preventDefault();
        event.returnValue = true; // what older browsers wait for
      });
    }

    showVerdicts() {
      for (const take of this.takes) take.showVerdict();
      const { saved, kept } = this.verdicts;
      this.tools.save.textContent = saved ? 'Save' : 'Save *';
      this.tools.save.title = kept ? 'Save all verdicts as a file' : 'This browser keeps nothing for this page: save before you leave';
      if (!kept && !saved) this.take?.trouble('kept', 'This browser keeps no verdicts for this page: save them before you leave.');
      else for (const take of this.takes) take.trouble('kept', '');
    }

    // What was set by hand is on the list of every take.
    showOwn() {
      for (const take of this.takes) take.show();
    }

    save() {
      const name = sublatch.verdictFile.save(this.audition, this.verdicts, this.own);
      this.say(`Saved as ${name}`);
      return name;
    }

    // The verdicts as one line, to send as a message.
    copy() {
      sublatch.verdictFile.copy(this.audition, this.verdicts, this.own, (words) => this.say(words));
    }

    overview() {
      if (this.letters) return this.say('Show the names first: the overview would tell them.');
      const { audition, verdicts, own } = this;
      const of = (take) => [...take.candidates, ...own.candidates(take).filter(({ isLoose }) => !isLoose)];
      const go = (place, index) => {
        this.tabs.show(this.tabs.sections.indexOf(this.takes[place].section));
        this.takes[place].choose(index);
      };
      return sublatch.overview.open({ audition, verdicts, of, save: () => this.save(), go });
    }

    turnNames() {
      const count = this.audition.takes[0].candidates.length + this.own.kept.length;
      const isLoose = !this.letters && this.takes.some(({ index }) => index >= count);
      for (const take of this.takes) if (take.index >= count) take.choose(take.player.chosen); // it has no name to hide
      const letter = this.letters?.of(this.take?.index ?? 0);
      this.letters = this.letters ? null : new sublatch.Letters(count);
      root.classList.toggle('unnamed', Boolean(this.letters));
      this.tools.unnamed.setAttribute('aria-pressed', String(Boolean(this.letters)));
      for (const take of this.takes) take.setLetters(this.letters);
      if (this.letters) this.turnDrawer(false);
      const loose = isLoose ? ' What was set by hand was not kept, and has no letter.' : '';
      this.say(this.letters ? `Names are hidden.${loose}` : `Names are shown. You hear ${this.take?.heard.name}, which was ${letter}.`);
    }

    turnDrawer(open = !root.classList.contains('drawer')) {
      root.classList.toggle('drawer', open);
      this.tools.drawer?.setAttribute('aria-expanded', String(open));
      const still = matchMedia('(prefers-reduced-motion: reduce)').matches;
      const place = open ? this.take?.section.querySelector('.figures') : root;
      place?.scrollIntoView({ behavior: still ? 'auto' : 'smooth', block: 'start' });
    }

    trial() {
      this.take?.section.querySelector('.blind')?.dispatchEvent(new Event('sublatch-trial'));
    }

    key(event) {
      const { take } = this;
      const { target } = event;
      if (sublatch.keys.held(event) || event.repeat || event.defaultPrevented || target.closest?.('dialog')) return;
      if (target.matches('input:not([type=radio], [type=range], [type=checkbox]), select, textarea, audio')) return;
      const of = (act) => (...told) => (take ? act(take, ...told) : false);
      sublatch.keys.dispatch(event, sublatch.keys.TAKE, {
        play: of((one) => !target.matches('button, summary, a, [type=checkbox]') && one.toggle()),
        loop: of((one) => one.toggleLoop()),
        here: of((one) => one.startFrom(one.here_s, true)),
        turn: of((one, kind) => one.turn(kind)),
        choose: of((one, digit) => one.lines.chooseBy(digit)),
        step: of((one, by) => !target.matches('[type=range]') && !root.classList.contains('drawer') && this.walk(one, by)),
        swap: of((one) => one.swap()),
        note: of((one) => one.loopNote()),
        dropout: of((one) => one.nextDropout()),
        zoom: of((one, by) => one.zoomBy(by)),
        verdict: of((one, verdict) => one.decide(verdict)),
        write: of((one) => one.note.focus()),
        view: of((one) => sublatch.views.next(one.section)),
        take: (by) => this.tabs.step(by),
        unnamed: () => this.turnNames(),
        overview: () => this.overview(),
        drawer: () => this.turnDrawer(),
      });
    }

    // Along the list; what has the focus in it follows.
    walk(take, by) {
      take.step(by);
      if (document.activeElement.matches('.choice [type=radio]')) {
        take.section.querySelector('.choice [type=radio]:checked:not(:disabled)')?.focus();
      }
    }
  }

  function start() {
    const audition = JSON.parse(document.getElementById('audition').textContent);
    if (!audition.takes.length) return;
    root.classList.add('live');
    const desk = new Desk(audition);
    document.addEventListener('keydown', (event) => desk.key(event));
    document.addEventListener('sublatch-hush', () => desk.hush());
    document.addEventListener('play', (event) => {
      for (const audio of document.querySelectorAll('audio')) if (audio !== event.target) audio.pause();
      for (const take of desk.takes) if (take.player.playing || take.waiting) take.pause();
    }, { capture: true });
  }

  if (globalThis.AudioContext && globalThis.OfflineAudioContext) start();
})();
