'use strict';

// The file of verdicts that is saved: what `sublatch decide` reads.
(() => {
  const FORMAT = 1;

  /**
   * Return all verdicts as they are saved.
   * @param {{title: string, plan: string, takes: Object[]}} audition
   * @param {Object} verdicts
   * @param {Object} own What was set by hand.
   */
  function content(audition, verdicts, own) {
    const { takes } = audition;
    const byHand = own.saved();
    const given = takes.flatMap((take) => [...take.candidates, ...byHand].flatMap((candidate) => {
      const { verdict, note, sound } = verdicts.of(take, candidate);
      return verdict || note ? [{ take: take.name, candidate: candidate.name, verdict: verdict || null, note, sound }] : [];
    }));
    return {
      audition_verdicts: FORMAT,
      program: document.querySelector('meta[name=generator]')?.content ?? 'sublatch',
      session: verdicts.session,
      saved: new Date().toISOString(),
      listener: verdicts.listener,
      audition: audition.title,
      plan: audition.plan,
      takes: takes.map(({ name }) => name),
      candidates: (takes[0]?.candidates ?? []).map(({ name, circuit, settings }) => ({ name, circuit, settings })),
      by_hand: byHand,
      verdicts: given,
    };
  }

  /**
   * Save all verdicts; returns the file's name.
   * @param {{title: string, plan: string, takes: Object[]}} audition
   * @param {Object} verdicts
   * @param {Object} own What was set by hand.
   */
  function save(audition, verdicts, own) {
    const who = verdicts.listener ? ` ${sublatch.markup.fileWord(verdicts.listener)}` : '';
    const name = `verdict${who} ${verdicts.session.slice(0, 8)}.json`;
    sublatch.markup.save(name, `${JSON.stringify(content(audition, verdicts, own), null, 2)}\n`);
    verdicts.markSaved();
    return name;
  }

  /**
   * Show all verdicts as one line, copied where the browser allows it.
   * @param {Object} audition
   * @param {Object} verdicts
   * @param {Object} own What was set by hand.
   * @param {(words: string) => void} say
   */
  function copy(audition, verdicts, own, say) {
    const { make, button } = sublatch.markup;
    const text = make('textarea', { readonly: true, rows: 6, 'aria-label': 'Your verdicts as one line' });
    text.value = JSON.stringify(content(audition, verdicts, own));
    const listener = make('input', { type: 'text', maxlength: 80, autocomplete: 'name', value: verdicts.listener, input: ({ target }) => {
      verdicts.setListener(target.value.trim());
      text.value = JSON.stringify(content(audition, verdicts, own));
    } });
    const dialog = make('dialog', { class: 'overview', 'aria-label': 'Your verdicts as one line', close: () => dialog.remove() },
      make('p', {}, make('label', {}, 'Your name ', listener)), text,
      make('p', {}, 'Send this line. Who gets it puts it into a file that ends in .json, and reads it with sublatch decide.'),
      make('p', { class: 'line' },
        button('Copy the line', async () => {
          text.select();
          await navigator.clipboard?.writeText(text.value).then(() => say('Copied.'), () => say('Marked: copy it by hand.'));
          verdicts.markSaved();
        }),
        button('Close', () => dialog.close())));
    document.body.append(dialog);
    dialog.showModal();
  }

  globalThis.sublatch ??= {};
  sublatch.verdictFile = { content, save, copy };
})();
