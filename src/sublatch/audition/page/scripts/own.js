'use strict';

// What was set by hand, beside the audition's candidates: the last of it, and what was kept of it under a name.
(() => {
  const BY_HAND = 'by hand';
  const LONGEST_NAME = 70;
  const PLACES = { peak: 'switches.peak' };

  /**
   * A part's value or a control's place in words: "47 kΩ", "4.2".
   * @param {Object} circuit
   * @param {string} setting
   * @param {number} value
   */
  function part(circuit, setting, value) {
    const { unit } = sublatch.livePartsList.changeable(circuit).find((each) => each.setting === setting) ?? {};
    return unit ? sublatch.livePartsList.inWords(value, unit) : String(value);
  }

  /** A name that is not too long, cut between two things that it tells. @param {string} name */
  function shortened(name) {
    if (name.length <= LONGEST_NAME) return name;
    const cut = name.slice(0, LONGEST_NAME + 1);
    return cut.slice(0, Math.max(cut.lastIndexOf(', '), 0)) || cut.slice(0, LONGEST_NAME);
  }

  /** Settings without those of a table, whether they stand as a table or by dotted paths. */
  function without(settings, tables) {
    return Object.fromEntries(Object.entries(settings)
      .filter(([path]) => !tables.some((table) => path === table || path.startsWith(`${table}.`))));
  }

  // The filter that was found, as settings that a circuit file takes.
  function foundSettings(circuit) {
    const { 'filter.pot': pot } = circuit.pots;
    const values = Object.fromEntries(Object.entries(circuit.values).filter(([path]) => path.startsWith('filter.')));
    return {
      'filter.kind': 'swept-second-order', 'filter.start_resistor': 'none', ...values,
      'filter.pot.value': pot.value, 'filter.pot.taper': pot.taper, 'filter.pot.midpoint': pot.midpoint,
    };
  }

  /**
   * What is set, as changes of a circuit by dotted path.
   * @param {Object} circuit of what is set, with parts that were found
   * @param {{controls: Object, values: Object, found: Object | null}} setting of what is set, only what was changed
   */
  function changes(circuit, { controls, values, found }) {
    const places = Object.entries(controls).map(([name, place]) => [PLACES[name] ?? `knobs.${name}`, place]);
    const parts = Object.entries(values).map(([setting, value]) => [setting in circuit.pots ? `${setting}.value` : setting, value]);
    return { ...(found ? foundSettings(circuit) : {}), ...Object.fromEntries([...places, ...parts]) };
  }

  /** What was set by hand; `store` keeps it, `live` is what the page makes circuits from. */
  class Own {
    /** @param {{store: Object, audition: Object}} given */
    constructor({ store, audition }) {
      Object.assign(this, { store, audition });
      const names = new Set(audition.takes.flatMap(({ candidates }) => candidates.map(({ name }) => name)));
      const isThere = (setting) => Boolean(audition.live?.circuits[setting?.candidate]);
      this.store.own = store.own.filter(({ name, setting }) => !names.has(name) && isThere(setting));
      if (!isThere(store.hand)) this.store.hand = null;
    }

    /** The last setting that was not kept under a name. */
    get hand() { return this.store.hand; }

    set hand(setting) { this.store.setHand(setting); }

    /** Settings in their order: what was kept, then the last one that was not. */
    get entries() { return [...this.store.own, ...(this.hand ? [{ name: BY_HAND, setting: this.hand, isLoose: true }] : [])]; }

    /** Only what was kept. */
    get kept() { return this.store.own; }

    circuit({ candidate, found }) {
      const { circuits, swept } = this.audition.live;
      return found ? sublatch.find.circuit(circuits[candidate], swept, found) : circuits[candidate];
    }

    /** What is changed, in words. */
    words(setting) {
      const circuit = this.circuit(setting);
      const controls = Object.entries(setting.controls).map(([name, place]) => [PLACES[name] ?? `knobs.${name}`,
        name === 'peak' ? `peak: ${place}` : `${name.replace('_', ' ')} at ${place}`]);
      const values = Object.entries(setting.values).map(([path, value]) => [path, `${circuit.words[path]}: ${part(circuit, path, value)}`]);
      const found = setting.found ? [['filter', `filter: ${sublatch.panelWords.parts(setting.found)}`]] : [];
      const wish = setting.wish ? [['filter', sublatch.panelWords.wished(setting.wish)]] : [];
      return [...found, ...wish, ...controls, ...values];
    }

    /** A name that says what it is, and that nothing has yet. */
    suggested({ candidate, ...setting }) {
      const told = this.words({ candidate, ...setting })
        .map(([path, words]) => (path === 'filter' && setting.found ? 'parts found' : words)).slice(0, 2).join(', ');
      return this.free(shortened(`${candidate}${told ? `, ${told}` : ''}`.replaceAll('\u00a0', ' ')));
    }

    /** A name made one that no other has, as files would tell them apart. */
    free(name) {
      const fold = (text) => text.trim().toLocaleLowerCase();
      const taken = new Set([...this.audition.takes[0].candidates, ...this.kept].map((one) => fold(one.name)));
      let [free, count] = [name.trim(), 1];
      while (taken.has(fold(free)) || fold(free) === BY_HAND) free = `${name.trim()} ${count += 1}`;
      return free;
    }

    /** Keep what is set by hand under a name; returns its place among the entries. */
    keep(name) {
      this.store.setOwn([...this.kept, { name: this.free(name), setting: this.hand }]);
      this.hand = null;
      return this.kept.length - 1;
    }

    /** As candidates of a take. */
    candidates({ candidates }) {
      return this.entries.flatMap(({ name, setting, isLoose = false }) => {
        const base = candidates.find((one) => one.name === setting.candidate);
        return base ? [this.candidate({ name, setting, isLoose, base, index: candidates.indexOf(base) })] : [];
      });
    }

    candidate({ name, setting, isLoose, base, index }) {
      const changed = this.words(setting);
      const paths = new Set(changed.map(([path]) => path));
      return {
        name, setting, isLoose, base: index, digest: '', circuit: base.circuit, settings: this.settings(base, setting),
        words: [...base.words.filter(([path]) => !paths.has(path)), ...changed],
        differs: `${base.name}, ${changed.map(([, words]) => words).join('; ')}`,
        locked_share: base.locked_share, dropouts: base.dropouts, balance: null, moves: [], above: null, sweep: null,
      };
    }

    // All that a candidate changes in its circuit, what was set by hand last; a board's own parts stay with the board,
    // and a filter's where another was found or is wished.
    settings(base, setting) {
      const left = without(base.settings, ['board', ...(setting.found || setting.wish ? ['filter'] : [])]);
      return { ...left, ...changes(this.circuit(setting), setting) };
    }

    /** As the file of verdicts has it. */
    saved() {
      return this.candidates(this.audition.takes[0]).filter(({ isLoose }) => !isLoose)
        .map(({ name, setting, circuit, settings }) => (
          { name, base: setting.candidate, circuit, settings, ...(setting.wish ? { wish: setting.wish } : {}) }));
    }
  }

  globalThis.sublatch ??= {};
  Object.assign(sublatch, { Own, ownSetting: { changes } });
})();
