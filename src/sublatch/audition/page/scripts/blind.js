'use strict';

// Blind listening on one take, from one face of its section to the next. Which candidate is behind which letter is
// known to `behind` here and nowhere else until the session ends: the document does not tell.
(() => {
  let running = null; // one session at a time on a page

  class Blind {
    #behind = {};
    #session = null;

    constructor(section, audition, take) {
      const { make, button } = sublatch.markup;
      Object.assign(this, { section, audition, take, part: this.whole(take), pair: [0, 1], unsaved: false });
      this.face = make('div', { class: 'blind-face' });
      const top = make('div', { class: 'blind-line blind-top' }, make('h2', {}, 'Blind trial on ', make('bdi', {}, take.name)),
        button('Close', () => this.wayOut()));
      this.room = make('dialog', { class: 'blind-room', 'aria-label': 'Blind trial', close: () => this.closed(),
        cancel: (event) => { event.preventDefault(); this.wayOut(); } }, top, this.face);
      section.append(button('Listen blind', () => this.open()), this.room);
      section.addEventListener('sublatch-trial', () => this.open());
      addEventListener('beforeunload', (event) => {
        if (!this.unsaved) return;
        event.preventDefault();
        event.returnValue = true; // what older browsers wait for
      });
      addEventListener('keydown', (event) => this.key(event), { capture: true });
    }

    whole(take) {
      return [0, Math.floor(100 * take.seconds) / 100];
    }

    // Over the whole page, so that nothing of it is seen or pressed. It begins with the two that were heard last and the
    // loop, which the page tells; an outcome that nobody saved is there still.
    open() {
      if (this.room.open) return;
      const told = { pair: [0, 1], loop: null };
      this.section.dispatchEvent(new CustomEvent('sublatch-begin', { detail: told }));
      this.pair = told.pair[0] === told.pair[1] ? [0, told.pair[1] || 1] : told.pair;
      if (!this.unsaved) {
        this.part = told.loop ?? this.whole(this.take);
        this.setup();
      }
      this.room.showModal();
    }

    // Ask before a session ends early; otherwise go back to the page.
    wayOut() {
      if (running === this && this.form) this.face.querySelector('.blind-stop button')?.click();
      else if (running === this) this.leave();
      else this.room.close();
    }

    closed() {
      if (running === this && this.form) this.room.showModal(); // a browser may shut it without asking
      this.player?.pause();
    }

    show(...inside) {
      this.face.replaceChildren(...inside);
      this.face.querySelector('[tabindex="-1"]')?.focus({ preventScroll: true });
    }

    setup(problem = '') {
      const { take, pair } = this;
      this.show(sublatch.blindSetup.setup({ take, pair, problem, begin: (wanted) => this.begin(wanted) }));
    }

    begin(wanted) {
      if (running) return 'Another blind session on this page is not finished yet.';
      running = this;
      this.#session = wanted;
      const { make, button } = sublatch.markup;
      this.show(make('p', { role: 'status', tabindex: '-1' }, 'Getting the sounds ready …'),
        button('Not now', () => this.leave()));
      this.load(wanted).then((player) => this.#session === wanted && this.start(player), (problem) => {
        if (this.#session === wanted) this.leave(`The sounds cannot be played: ${problem?.message ?? problem}`);
      });
      return null;
    }

    // A player of its own, so that the page's shows nothing of what is heard here.
    async load(wanted) {
      for (const audio of document.querySelectorAll('audio')) audio.pause();
      document.dispatchEvent(new CustomEvent('sublatch-hush'));
      this.context = new AudioContext({ sampleRate: this.take.sample_rate });
      const player = new sublatch.Player({ take: { ...this.take, candidates: wanted.candidates }, context: this.context });
      await player.load(() => {});
      if (player.lost?.length) throw player.lost[0].problem;
      return player;
    }

    start(player) {
      Object.assign(this, { player, unsaved: true, began: new Date(), zero: performance.now() });
      for (const kind of ['time', 'state']) player.addEventListener(kind, () => this.transport?.tell());
      player.setLoop(...this.part);
      this.next();
    }

    now() {
      return Math.round((performance.now() - this.zero) / 10) / 100;
    }

    // One trial, or one round, in a new random order.
    next() {
      const { candidates, trials, planned, kind } = this.#session;
      const names = candidates.map(({ name }) => name);
      const order = sublatch.trial.shuffled(names);
      const letters = sublatch.trial.LETTERS.slice(0, names.length).split('');
      const begun = this.now();
      const answer = (given) => {
        trials.push({ order, answer: given, begun_s: begun, answered_s: this.now() });
        if (trials.length < planned) this.next();
        else this.end();
      };
      const hear = (letter) => this.hear(letter);
      const choice = kind === 'forced-choice';
      this.#behind = Object.fromEntries(letters.map((letter, i) => [letter, names.indexOf(order[i])]));
      if (choice) this.#behind.R = 0;
      this.form = choice ? sublatch.blindTrial.choice({ hear, answer }) : sublatch.blindTrial.ranking({ letters, hear, answer });
      this.showTrial(`${choice ? 'Trial' : 'Round'} ${trials.length + 1} of ${planned}`, trials.length, planned);
      this.hear(choice ? 'R' : 'A');
    }

    showTrial(title, answered, planned) {
      const { player, part } = this;
      const stop = () => (answered ? this.end() : this.leave());
      this.transport = sublatch.blindTrial.transport({ player, part, seconds: this.take.seconds, toggle: () => this.toggle() });
      this.show(sublatch.markup.make('h3', { tabindex: '-1' }, title), this.transport.element, this.form.element,
        sublatch.blindTrial.ending({ answered, planned, stop }));
    }

    hear(letter) {
      this.heard = letter;
      this.player.choose(this.#behind[letter]);
      for (const button of this.face.querySelectorAll('[data-hear]')) {
        button.setAttribute('aria-pressed', String(button.dataset.hear === letter));
      }
    }

    toggle() {
      if (this.player.playing) this.player.pause();
      else this.player.play();
      this.transport.tell();
    }

    // The end: only now is it told which was which.
    end() {
      const session = sublatch.trial.finished({
        ...this.#session, audition: this.audition.title, take: this.take, heard: this.player.heard, began: this.began,
      });
      this.close();
      this.unsaved = true;
      this.show(sublatch.blindResult.result({
        session,
        saved: () => { this.unsaved = false; },
        again: () => { this.unsaved = false; this.setup(); },
      }));
    }

    leave(problem = '') {
      this.close();
      this.setup(problem);
    }

    close() {
      this.player?.pause();
      this.context?.close();
      Object.assign(this, { player: null, context: null, transport: null, form: null, unsaved: false });
      this.#session = null;
      this.#behind = {};
      running = null;
    }

    // While a session runs, the keys are its own: the page's would show names.
    key(event) {
      if (running !== this || !this.form || sublatch.keys.held(event)) return;
      if (event.key === 'Escape') {
        event.preventDefault();
        this.wayOut();
      }
      if (event.target.matches('input, select, textarea') && this.face.contains(event.target)) return;
      this.handle(event);
      event.stopImmediatePropagation();
    }

    handle(event) {
      sublatch.keys.dispatch(event, sublatch.keys.blind(Object.keys(this.#behind)), {
        play: () => !event.target.matches('button:not([data-hear]), summary, a') && this.toggle(),
        letter: (letter) => {
          if (event.shiftKey && this.form.shifted) this.form.shifted(letter);
          else this.hear(letter);
        },
        move: (step) => (this.form.moved ? this.form.moved(this.heard, step) : false),
      });
    }
  }

  function start() {
    const data = document.getElementById('audition');
    if (!data) return;
    const audition = JSON.parse(data.textContent);
    for (const section of document.querySelectorAll('section.blind[data-take]')) {
      const take = audition.takes[Number(section.dataset.take)];
      if (take && take.candidates.length > 1) new Blind(section, audition, take);
    }
  }

  if (document.readyState === 'loading') document.addEventListener('DOMContentLoaded', start);
  else start();
})();
