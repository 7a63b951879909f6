'use strict';

// Blind listening, before it begins: what to find out, with which candidates, and how many times.
(() => {
  const QUESTIONS = [
    ['forced-choice', 'Can you tell two apart?',
      'You hear a reference, and two sounds A and B. One of them is the reference again; say which.'],
    ['ranking', 'Which do you like best?', 'You hear the candidates behind letters, and put them in order.'],
  ];

  const { make, button } = sublatch.markup;

  function number(name, value, { least, most, ...attributes }) {
    return make('input', { type: 'number', name, value, min: least, max: most, step: 1, required: true, ...attributes });
  }

  function group(legend, ...inside) {
    return make('fieldset', {}, make('legend', {}, legend), ...inside);
  }

  function kinds(turn) {
    return group('To find out', ...QUESTIONS.map(([kind, title, words], i) => make('label', {},
      make('input', { type: 'radio', name: 'kind', value: kind, checked: i === 0, change: () => turn(kind) }),
      make('span', {}, make('strong', {}, title), ` ${words}`))));
  }

  function choiceFields(take, [reference, other]) {
    const { FEWEST_TRIALS, MOST_TRIALS } = sublatch.trial;
    const pick = (label, name, chosen) => make('label', { class: 'blind-line' }, label, make('select', { name },
      ...take.candidates.map((candidate, i) => make('option', { value: i, selected: i === chosen }, candidate.name))));
    const guidance = make('p', { class: 'facts' });
    const trials = number('trials', 16, { least: FEWEST_TRIALS, most: MOST_TRIALS, input: () => tell() });
    const tell = () => {
      const count = trials.checkValidity() ? Number(trials.value) : 0;
      guidance.textContent = count ? `Guessing gets ${sublatch.odds.leastRight(count)} or more of ${count} right at most `
        + '5 times in 100. Few trials show little. The number is fixed once you begin.' : '';
    };
    const usual = [8, 12, 16, 20].map((count) => button(String(count), () => { trials.value = count; tell(); },
      { 'aria-label': `${count} trials` }));
    tell();
    return make('fieldset', {}, pick('Reference', 'reference', reference), pick('Against', 'other', other),
      make('div', { class: 'blind-line' }, make('label', { class: 'blind-line' }, 'Trials', trials), ...usual), guidance);
  }

  function rankingFields(take) {
    const { MOST_TRIALS, LETTERS } = sublatch.trial;
    const boxes = take.candidates.map(({ name }, i) => make('label', {},
      make('input', { type: 'checkbox', name: 'heard', value: i, checked: i < LETTERS.length }), make('span', {}, name)));
    return make('fieldset', {}, group('Candidates', ...boxes),
      make('label', { class: 'blind-line' }, 'Rounds', number('rounds', 1, { least: 1, most: MOST_TRIALS })),
      make('p', { class: 'facts' }, 'One round shows what you like today. From six on, liking can be told from chance. '
        + 'The number is fixed once you begin.'));
  }

  // What the form asks for, or a sentence about what is missing.
  function asked(form, take) {
    const choice = form.get('kind') === 'forced-choice';
    const chosen = (choice ? [form.get('reference'), form.get('other')] : form.getAll('heard')).map(Number);
    if (choice && chosen[0] === chosen[1]) return 'Choose two candidates that differ.';
    if (chosen.length < 2) return 'Choose at least two candidates.';
    if (chosen.length > sublatch.trial.LETTERS.length) return 'Choose at most 26 candidates: there are no more letters.';
    return {
      kind: form.get('kind'),
      candidates: chosen.map((i) => take.candidates[i]),
      planned: Number(form.get(choice ? 'trials' : 'rounds')),
      trials: [],
    };
  }

  // The form, which begins with a pair of candidates; `begin` is called with what it asks for, and may return a sentence
  // why not.
  function setup({ take, pair, begin, problem = '' }) {
    const said = make('p', { role: 'alert', class: 'blind-said' }, problem);
    const [choice, ranking] = [choiceFields(take, pair), rankingFields(take)];
    const turn = (kind) => {
      choice.hidden = choice.disabled = kind !== 'forced-choice';
      ranking.hidden = ranking.disabled = kind !== 'ranking';
    };
    turn('forced-choice');
    const form = make('form', {
      submit: (event) => {
        event.preventDefault();
        const wanted = asked(new FormData(form), take);
        said.textContent = (typeof wanted === 'string' ? wanted : begin(wanted)) ?? '';
      },
    }, kinds(turn), choice, ranking, make('p', { class: 'facts' }, 'Candidates of the audition can be tried. What was set by '
      + 'hand is among them once sublatch decide has written it into a plan that is run.'), said, make('button', {}, 'Begin'));
    return form;
  }

  globalThis.sublatch ??= {};
  sublatch.blindSetup = { setup };
})();
