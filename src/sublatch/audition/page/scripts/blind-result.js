'use strict';

// Blind listening, at its end: what came of it, which was which, and the file to save.
(() => {
  function key(session) {
    const { make } = sublatch.markup;
    if (session.kind === 'ranking') return make('ol', { class: 'blind-key' }, ...likedOrder(session));
    const [reference] = session.candidates;
    return make('ol', { class: 'blind-key' }, ...session.trials.map(({ order, answer }) => {
      const was = 'AB'[order.indexOf(reference.name)];
      return make('li', {}, `${was} was the reference, you said ${answer}: ${was === answer ? 'right' : 'wrong'}`);
    }));
  }

  // The candidates in the order of liking, with where they came in each round.
  function likedOrder(session) {
    const { make } = sublatch.markup;
    const { LETTERS, rankText } = sublatch.trial;
    const rows = session.candidates.map(({ name }, i) => ({ name, mean: session.result.mean_ranks[i] }));
    rows.sort((first, second) => first.mean - second.mean);
    return rows.map(({ name, mean }) => {
      const ranks = session.trials.map(({ order, answer }) => {
        const letter = LETTERS[order.indexOf(name)];
        return `${1 + answer.indexOf(letter)} as ${letter}`;
      });
      return make('li', {}, make('bdi', {}, name), `, mean place ${rankText(mean)} (${ranks.join(', ')})`);
    });
  }

  function fileName(session) {
    return `blind ${sublatch.markup.fileWord(session.take)} ${session.session.slice(0, 8)}.json`;
  }

  function result({ session, saved, again }) {
    const { make, button } = sublatch.markup;
    const [name, text] = [fileName(session), `${JSON.stringify(session, null, 2)}\n`];
    const names = session.candidates.map((candidate) => candidate.name);
    const heard = session.kind === 'ranking' ? [] : [make('p', {}, 'The reference was ', make('bdi', {}, names[0]),
      ', against ', make('bdi', {}, names[1]), '.')];
    const copy = make('textarea', { readonly: true, rows: 8, spellcheck: 'false', 'aria-label': 'The result as text',
      focus: (event) => event.target.select() });
    copy.value = text;
    return make('div', { class: 'blind-result' },
      make('h3', { tabindex: '-1' }, 'What came of it'),
      make('p', { class: 'blind-outcome' }, sublatch.trial.outcome(session)),
      make('p', {}, sublatch.trial.meaning(session)),
      ...heard,
      key(session),
      make('div', { class: 'blind-line' }, button('Save the result', () => { sublatch.markup.save(name, text); saved(); }),
        button('Begin anew', again)),
      make('p', { class: 'facts' }, 'Read it back, or add up several: ', make('code', {}, `sublatch trial "${name}"`)),
      make('details', {}, make('summary', {}, 'As text to copy'), copy));
  }

  globalThis.sublatch ??= {};
  sublatch.blindResult = { result, fileName };
})();
