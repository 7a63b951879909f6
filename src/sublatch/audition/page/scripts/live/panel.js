'use strict';

// @ts-check
// The knobs on the page: each is tied to the page's own sound of one take, and what they do is told beside them. The
// sound is made ready when a hand comes near.
(() => {
  const KNOBS = ['tone', 'volume', 'direct', 'direct_tone'];
  const WISHES = ['low_hz', 'high_hz', 'peak_db'];
  const MOST_FOUND = 5;
  const FIRST_WISH = { low_hz: 100, high_hz: 1000, peak_db: 3 };
  const RESTED_MS = 120; // a hand that has rested for so long is told what takes longer to work out
  const LIT = 1e-4; // share of time at the limits from which on the lamp is lit

  class Panel {
    /** @type {any} */
    live = null;
    /** @type {Promise<boolean> | null} */
    opening = null;

    /**
     * @param {object} of
     * @param {Element} of.section
     * @param {any} of.player
     * @param {() => AudioContext} of.context
     * @param {any} of.own what was set by hand
     * @param {(setting: any) => void} of.turned told what is set, only what was changed
     * @param {(name: string) => void} of.keep
     */
    constructor({ section, player, context, own, turned, keep }) {
      this.section = section;
      this.player = player;
      this.context = context;
      this.own = own;
      this.turned = turned;
      this.keep = keep;
      this.told = own.audition.live;
      this.place = /** @type {HTMLDetailsElement} */ (section.querySelector('[data-live]'));
      this.hand = /** @type {HTMLElement} */ (section.querySelector('[data-hand]'));
      this.wish = FIRST_WISH;
      const [first] = player.take.live.sounds[0].candidates;
      this.setting = this.fresh(first.name);
      this.place.hidden = this.hand.hidden = false;
      this.connect();
      this.tellControls();
    }

    /** @type {(name: string) => any} */
    control(name) { return this.section.querySelector(`[data-live-do="${name}"]`); }

    /** @type {(name: string) => any} */
    shown(name) { return this.section.querySelector(`[data-live-show="${name}"]`); }

    /** Candidates that the page can make, with their volumes on this take. @returns {{name: string, volume: number | null}[]} */
    get candidates() { return this.player.take.live.sounds.flatMap((/** @type {any} */ { candidates }) => candidates); }

    fresh(candidate) { return { candidate, controls: {}, values: {}, wish: null, found: null }; }

    connect() {
      this.place.addEventListener('toggle', () => { if (this.place.open) this.open(); });
      for (const near of ['pointerenter', 'focusin']) this.hand.addEventListener(near, () => this.open(), { once: true });
      this.control('candidate').addEventListener('change', () => this.start(this.control('candidate').value));
      this.control('own').addEventListener('change', () => this.hearOwn(this.control('own').checked));
      this.control('engage').addEventListener('change', () => this.engage(this.control('engage').checked));
      for (const name of KNOBS) this.control(name).addEventListener('input', () => this.turn({ controls: { [name]: Number(this.control(name).value) } }));
      this.control('peak').addEventListener('change', () => this.turn({ controls: { peak: this.control('peak').value } }));
      this.control('wish').addEventListener('change', async () => {
        await this.turn({ wish: this.control('wish').checked ? this.wish : null });
        this.parts();
        this.control('find').scrollIntoView({ block: 'nearest' });
      });
      for (const name of WISHES) {
        this.control(name).addEventListener('input', () => {
          this.wish = { ...this.wish, [name]: sublatch.panelWords.wishAt(name, Number(this.control(name).value)) };
          this.turn({ wish: this.wish });
        });
      }
      this.control('find').addEventListener('click', () => this.find());
      this.control('other').addEventListener('change', () => this.tellNearest());
      this.control('nearest').addEventListener('click', () => this.turnNow({ controls: this.found }));
      const keep = () => this.keep(this.control('name').value);
      this.control('keep').querySelector('button').addEventListener('click', keep);
      this.control('name').addEventListener('keydown', (/** @type {KeyboardEvent} */ { key }) => { if (key === 'Enter') keep(); });
    }

    /** Make the sound ready; false, and said, where it cannot be. @returns {Promise<boolean>} */
    open() {
      this.opening ??= this.made();
      return this.opening;
    }

    async made() {
      try {
        this.live = await sublatch.createLive(this.context(), this.player.take, this.told);
      } catch (problem) {
        this.trouble(`The knobs cannot work here: ${/** @type {Error} */ (problem).message}.`);
        return false;
      }
      const { live } = this;
      const options = () => live.candidates.map((/** @type {string} */ name) => new Option(name, name));
      this.control('candidate').replaceChildren(...options());
      this.control('other').replaceChildren(new Option('…', ''), ...options());
      live.addEventListener('turned', () => this.tell());
      live.addEventListener('settled', () => this.tellLevel());
      live.addEventListener('overload', () => this.tellLevel());
      this.set(this.setting);
      this.player.lend(live);
      live.settle();
      return true;
    }

    trouble(text) {
      this.shown('trouble').textContent = text;
      if (text) this.shown('spoken').textContent = text;
    }

    // Set everything anew.
    set(setting) {
      this.setting = setting;
      this.live.set({ ...setting, fresh: true });
      this.control('candidate').value = setting.candidate;
      this.parts();
    }

    // Take over a candidate with all its own controls and parts.
    start(name) {
      this.set(this.fresh(name));
      this.live.settle();
      if (this.player.own) this.turned(this.setting);
    }

    /** The knobs stand as a candidate has them, whose file is heard. */
    follow(name) {
      if (!this.candidates.some((one) => one.name === name)) return;
      if (this.live) this.set(this.fresh(name));
      else {
        this.setting = this.fresh(name);
        this.tellControls();
      }
    }

    /** Set what was set before; false where no sound can be made. @returns {Promise<boolean>} */
    async recall(setting) {
      if (!await this.open()) return false;
      this.set(setting);
      this.live.settle();
      return true;
    }

    parts() {
      const { live } = this;
      sublatch.livePartsList.show(this.shown('parts'), live.circuit, live.setting, (setting, value, words) => {
        this.turnNow({ values: { [setting]: value } });
        this.shown('spoken').textContent = words;
      });
    }

    // One thing turned; what is turned is what is wanted to be heard.
    async turn(change) {
      if (this.live || await this.open()) this.turnNow(change);
    }

    turnNow(change) {
      try {
        this.live.set(change);
        this.trouble('');
      } catch (problem) {
        this.trouble(`Not possible: ${/** @type {Error} */ (problem).message}.`);
        throw problem;
      }
      const { candidate, controls, values, wish, found } = this.setting;
      const { values: stand, wish: wished, found: parts } = this.live.setting;
      const left = Object.fromEntries(Object.entries({ ...values, ...change.values }).filter(([path]) => path in stand));
      this.setting = { candidate, controls: { ...controls, ...change.controls }, values: left, wish: wished ?? null, found: parts ?? null };
      if (parts !== found || wished !== wish) Object.assign(this.setting.controls, this.swept());
      this.turned(this.setting);
      if (!this.control('engage').checked) this.player.choose(0);
    }

    // Controls that a wished or found filter has where the circuit's own has none.
    swept() {
      const { tone, peak } = sublatch.wish.controlled(this.live.setting.controls);
      return this.setting.wish || this.setting.found ? { tone, peak } : {};
    }

    // Look for parts that do what is wished, and offer them.
    find() {
      const found = sublatch.find.nearest(this.wish).slice(0, MOST_FOUND);
      this.shown('found').replaceChildren(...found.map((/** @type {any} */ each) => {
        const [line, button] = [document.createElement('li'), document.createElement('button')];
        button.type = 'button';
        button.textContent = 'Hear';
        button.setAttribute('aria-pressed', 'false');
        button.addEventListener('click', () => this.hear(each, button));
        line.append(sublatch.panelWords.set(each), button);
        return line;
      }));
      this.shown('spoken').textContent = found.length ? `${found.length} sets of parts found` : 'No parts that are sold come near';
    }

    // Hear a set of parts where it sounds like what is set, and mark it.
    hear(found, button) {
      this.turnNow({ wish: null, found, controls: { tone: this.live.toneFor(found) } });
      this.parts();
      for (const each of this.shown('found').querySelectorAll('button')) each.setAttribute('aria-pressed', String(each === button));
      button.scrollIntoView({ block: 'nearest' });
    }

    hearOwn(on) {
      if (on) this.turned(this.setting);
      else this.player.hearOwn(false);
    }

    engage(on) {
      if (on) this.turned(this.setting);
      else this.player.choose(0);
    }

    /** What is heard: its name is offered where it has none of its own yet. */
    tellOwn({ isLoose = false } = {}, isBefore = false) {
      if (this.player.own && this.live) this.tellSeen();
      sublatch.ownCurves.show(this.section, this.player.own ? 'heard' : isBefore ? 'before' : '');
      this.control('own').checked = this.player.own;
      if (this.player.own) this.control('engage').checked = true;
      this.control('keep').hidden = !isLoose;
      if (isLoose && document.activeElement !== this.control('name')) this.control('name').value = this.own.suggested(this.setting);
    }

    tell() {
      const { wish } = this.live.setting;
      this.tellControls();
      this.control('wish').checked = Boolean(wish);
      for (const name of WISHES) this.put(name, (wish ?? this.wish)[name]);
      for (const line of this.place.querySelectorAll('[data-live-of="wish"]')) /** @type {HTMLElement} */ (line).hidden = !wish && !this.live.setting.found;
      const response = this.live.response();
      sublatch.livePicture.draw(this.shown('curve'), response);
      this.shown('filter').textContent = sublatch.panelWords.filter(response);
      this.tellLevel();
      clearTimeout(this.rest);
      this.rest = setTimeout(() => this.tellSteps(), RESTED_MS);
      if (this.player.own) this.tellSeen();
    }

    tellSteps() {
      this.shown('steps').textContent = sublatch.panelWords.steps(this.live.steepest());
    }

    // Weight, body and bite of what is set, where it stands above the bed, and its curves.
    tellSeen() {
      sublatch.ownCurves.draw(this.section, this.live);
      const { above_hz: above, ...balance } = this.live.balance();
      sublatch.chosen.showBars(this.section, { balance });
      if (above) sublatch.chosen.put(this.section, 'above', `What is set stands ${sublatch.panelWords.above(above)}.`);
    }

    // Where the tone knob sounds nearest to another candidate: one press sets it.
    tellNearest() {
      const other = this.control('other').value;
      const found = other && this.live.nearest({ candidate: other });
      const button = this.control('nearest');
      button.hidden = !found;
      if (!found) return;
      button.textContent = sublatch.panelWords.nearest(other, found);
      this.found = { tone: found.tone, ...(found.peak ? { peak: found.peak } : {}) };
    }

    // Where the controls stand, also before there is a sound to turn.
    tellControls() {
      const { candidate, controls: changed, wish, found } = this.live?.setting ?? this.setting;
      const own = this.told.circuits[candidate].controls;
      const volume = own.volume ?? this.candidates.find(({ name }) => name === candidate)?.volume;
      const stand = { ...own, volume, ...changed };
      const controls = wish || found ? sublatch.wish.controlled(stand) : stand;
      for (const name of [...KNOBS, 'peak']) {
        const isThere = name === 'volume' || own[name] !== null || ((wish || found) && ['tone', 'peak'].includes(name));
        /** @type {HTMLElement} */ (this.section.querySelector(`[data-live-of="${name}"]`)).hidden = !isThere;
        if (isThere) this.put(name, controls[name]);
      }
    }

    put(name, value) {
      const { number, placeOf } = sublatch.panelWords;
      const control = this.control(name);
      control.value = placeOf(name, value);
      control.setAttribute('aria-valuetext', name.endsWith('_hz') ? `${number(value, 0)} Hz` : `${value}`);
      const output = control.parentElement.querySelector('output');
      if (output) output.textContent = name.endsWith('_hz') ? number(value, 0) : number(value);
    }

    tellLevel() {
      const { number, limits } = sublatch.panelWords;
      const figures = this.live.figures();
      const { gain_db: gain, overload, settled } = figures;
      this.shown('level').textContent = `Brought to the others’ level by ${gain >= 0.05 ? '+' : ''}${number(gain)} dB.`;
      this.shown('limits').textContent = limits(figures);
      this.shown('lamp').classList.toggle('lit', overload > LIT || (settled?.at_limit_share_unity ?? 0) > LIT);
    }
  }

  // Tie the knobs of a take's section to its player, where it has them.
  /** @type {(of: {section: Element, player: any, [more: string]: any}) => Panel | null} */
  function connect(of) {
    const isThere = of.section.querySelector('[data-live]') && of.player.take.live && globalThis.AudioWorkletNode;
    return isThere ? new Panel(/** @type {any} */ (of)) : null;
  }

  globalThis.sublatch ??= {};
  sublatch.livePanel = { connect };
})();
