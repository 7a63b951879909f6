'use strict';

// @ts-check
// The knobs on the page: each is tied to the page's own sound of one take, and what they do is told beside them.
(() => {
  const KNOBS = ['tone', 'volume', 'direct', 'direct_tone'];
  const WISHES = ['low_hz', 'high_hz', 'peak_db'];
  const MOST_FOUND = 5;
  const FIRST_WISH = { low_hz: 100, high_hz: 1000, peak_db: 3 };
  const ENDS_HZ = [30, 6000]; // at the two ends of a slider, which runs evenly in pitch
  const LIT = 1e-4; // share of time at the limits from which on the lamp is lit

  /** @type {(value: number, digits?: number) => string} */
  const number = (value, digits = 1) => value.toFixed(digits).replace('-', '−');
  /** @type {(share: number) => string} */
  const percent = (share) => `${share > 0 && share < 0.0005 ? '< 0.1' : number(100 * share)} %`;

  /** @type {(name: string, place: number) => number} */
  function wishAt(name, place) {
    const [low, high] = ENDS_HZ;
    return name.endsWith('_hz') ? low * (high / low) ** place : place;
  }

  /** @type {(name: string, value: number) => number} */
  function placeOf(name, value) {
    const [low, high] = ENDS_HZ;
    return name.endsWith('_hz') ? Math.log(value / low) / Math.log(high / low) : value;
  }

  // How far a set of parts is from the wish: the units of find.js in words.
  /** @type {(misses: number[]) => string} */
  function offBy(misses) {
    const corners = 10 * Math.max(...misses.slice(0, 4));
    return `corners within ${number(corners)} %, curve within ${number(0.5 * Math.max(...misses.slice(5)))} dB`;
  }

  class Panel {
    /** @type {any} */
    live = null;

    /**
     * @param {HTMLDetailsElement} place
     * @param {any} player
     * @param {() => AudioContext} context
     */
    constructor(place, player, context) {
      this.place = place;
      this.player = player;
      this.context = context;
      this.wish = FIRST_WISH;
      place.hidden = false;
      place.addEventListener('toggle', () => { if (place.open) this.open(); });
      player.addEventListener('chosen', () => this.tellOwn());
    }

    /** @type {(name: string) => any} */
    control(name) { return this.place.querySelector(`[data-live-do="${name}"]`); }

    /** @type {(name: string) => any} */
    shown(name) { return this.place.querySelector(`[data-live-show="${name}"]`); }

    async open() {
      if (this.live) return;
      try {
        const { live } = JSON.parse(document.getElementById('audition')?.textContent ?? '');
        this.live = await sublatch.createLive(this.context(), this.player.take, live);
      } catch (problem) {
        this.shown('trouble').textContent = `The knobs cannot work here: ${/** @type {Error} */ (problem).message}.`;
        return;
      }
      this.connect();
      this.start(this.player.take.candidates[this.player.chosen].name);
      this.player.lend(this.live);
    }

    connect() {
      const { live } = this;
      this.control('candidate').replaceChildren(...live.candidates.map((/** @type {string} */ name) => new Option(name, name)));
      this.control('candidate').addEventListener('change', () => this.start(this.control('candidate').value));
      this.control('own').addEventListener('change', () => this.player.hearOwn(this.control('own').checked));
      this.control('engage').addEventListener('change', () => this.engage(this.control('engage').checked));
      for (const name of KNOBS) this.control(name).addEventListener('input', () => this.turn({ controls: { [name]: Number(this.control(name).value) } }));
      this.control('peak').addEventListener('change', () => this.turn({ controls: { peak: this.control('peak').value } }));
      this.control('wish').addEventListener('change', () => {
        this.turn({ wish: this.control('wish').checked ? this.wish : null });
        this.parts();
      });
      for (const name of WISHES) {
        this.control(name).addEventListener('input', () => {
          this.wish = { ...this.wish, [name]: wishAt(name, Number(this.control(name).value)) };
          this.turn({ wish: this.wish });
        });
      }
      this.control('find').addEventListener('click', () => this.find());
      live.addEventListener('turned', () => this.tell());
      live.addEventListener('settled', () => this.tellLevel());
      live.addEventListener('overload', () => this.tellLevel());
    }

    // Take over a candidate with all its own controls and parts.
    start(name) {
      const { live } = this;
      const candidate = live.candidates.includes(name) ? name : live.candidates[0];
      this.control('candidate').value = candidate;
      live.set({ candidate, wish: null, found: null });
      this.parts();
    }

    parts() {
      const { live } = this;
      sublatch.livePartsList.show(this.shown('parts'), live.circuit, live.setting, (setting, value, words) => {
        this.turn({ values: { [setting]: value } });
        this.shown('spoken').textContent = words;
      });
    }

    // One thing turned; what is turned is what is wanted to be heard.
    turn(change) {
      try {
        this.live.set(change);
        this.shown('trouble').textContent = '';
      } catch (problem) {
        this.shown('trouble').textContent = `Not possible: ${/** @type {Error} */ (problem).message}.`;
        throw problem;
      }
      if (this.control('engage').checked) this.player.hearOwn(true);
    }

    // Look for parts that do what is wished, and offer them.
    find() {
      const found = sublatch.find.nearest(this.wish).slice(0, MOST_FOUND);
      const ohms = (/** @type {number} */ value) => sublatch.livePartsList.inWords(value, 'Ω');
      const farads = (/** @type {number[]} */ pair) => pair.map((value) => sublatch.livePartsList.inWords(value, 'F')).join(' and ');
      this.shown('found').replaceChildren(...found.map((/** @type {any} */ each) => {
        const [line, button] = [document.createElement('li'), document.createElement('button')];
        const { pot_ohm: pot, end_ohm: end, flat_farad: flat, peaked_farad: peaked } = each;
        const words = `pot ${ohms(pot)}, end resistors ${ohms(end)}, flat ${farads(flat)}, peaked ${farads(peaked)}: ${offBy(each.misses)} `;
        button.type = 'button';
        button.textContent = 'Hear';
        button.addEventListener('click', () => {
          this.turn({ wish: null, found: each });
          this.parts();
        });
        line.append(words, button);
        return line;
      }));
      this.shown('spoken').textContent = found.length ? `${found.length} sets of parts found` : 'No parts that are sold come near';
    }

    engage(on) {
      if (on) this.player.hearOwn(true);
      else this.player.choose(0);
    }

    tellOwn() {
      this.control('own').checked = this.player.own;
      if (this.player.own) this.control('engage').checked = true;
    }

    tell() {
      const { wish, found, controls: stand } = this.live.setting;
      const there = this.live.circuit.controls;
      const controls = wish || found ? sublatch.wish.controlled(stand) : stand;
      for (const name of [...KNOBS, 'peak']) {
        const isThere = name === 'volume' || there[name] !== null || ((wish || found) && ['tone', 'peak'].includes(name));
        /** @type {HTMLElement} */ (this.place.querySelector(`[data-live-of="${name}"]`)).hidden = !isThere;
        if (isThere) this.put(name, controls[name]);
      }
      this.control('wish').checked = Boolean(wish);
      for (const name of WISHES) this.put(name, (wish ?? this.wish)[name]);
      for (const line of this.place.querySelectorAll('[data-live-of="wish"]')) /** @type {HTMLElement} */ (line).hidden = !wish;
      const response = this.live.response();
      sublatch.livePicture.draw(this.shown('curve'), response);
      this.shown('filter').textContent = this.filterInWords(response);
      this.tellLevel();
    }

    put(name, value) {
      const control = this.control(name);
      control.value = placeOf(name, value);
      control.setAttribute('aria-valuetext', name.endsWith('_hz') ? `${number(value, 0)} Hz` : `${value}`);
      const output = control.parentElement.querySelector('output');
      if (output) output.textContent = name.endsWith('_hz') ? number(value, 0) : number(value);
    }

    filterInWords({ corner_hz: corner, low_corner_hz: low, peak_db: peak, peak_hz: at }) {
      const told = [
        low === null ? null : `low end ${number(low, 0)} Hz`,
        corner === null ? 'no corner below 20 kHz' : `corner ${number(corner, 0)} Hz`,
        peak ? `peak ${number(peak)} dB at ${number(at, 0)} Hz` : 'no peak',
      ];
      return `Output filter: ${told.filter(Boolean).join(', ')}.`;
    }

    tellLevel() {
      const { gain_db: gain, overload, settled } = this.live.figures();
      this.shown('level').textContent = `Brought to the others’ level by ${gain > 0 ? '+' : ''}${number(gain)} dB.`;
      const unity = settled?.unity ?? null;
      const share = settled?.at_limit_share_unity ?? 0;
      const now = `At its limits now ${percent(overload)} of the time`;
      const then = unity === null ? '' : `; as loud as bypassed, with volume at ${number(unity)}, ${percent(share)}`;
      this.shown('limits').textContent = `${now}${then}.`;
      this.shown('limits').classList.toggle('lit', overload > LIT || share > LIT);
    }
  }

  // Tie the knobs of a take's section to its player, where it has them.
  /** @type {(section: Element, player: any, context: () => AudioContext) => void} */
  function connect(section, player, context) {
    const place = /** @type {HTMLDetailsElement | null} */ (section.querySelector('[data-live]'));
    if (place && player.take.live && globalThis.AudioWorkletNode) new Panel(place, player, context);
  }

  globalThis.sublatch ??= {};
  sublatch.livePanel = { connect };
})();
