'use strict';

// Takes by candidates with what was decided, over the page: press a place in it to hear that one.
(() => {
  const { make, button } = sublatch.markup;

  function cell({ take, candidate, verdicts, go }) {
    const { verdict, note } = verdicts.of(take, candidate);
    const words = `${candidate.name} on ${take.name}: ${verdict || 'undecided'}${note ? `, ${note}` : ''}`;
    const inside = button(verdict || '·', go, { 'aria-label': words, title: words, 'data-verdict': verdict || 'none' });
    if (note) inside.append(make('span', { class: 'noted', 'aria-hidden': 'true' }, '*'));
    return make('td', {}, inside);
  }

  function grid({ audition, verdicts, of, go }) {
    const { takes } = audition;
    const head = make('tr', {}, make('td', {}),
      ...takes.map(({ name }) => make('th', { scope: 'col' }, make('bdi', {}, name))));
    const rows = of(takes[0]).map(({ name }, index) => make('tr', {},
      make('th', { scope: 'row' }, make('bdi', {}, name)),
      ...takes.map((take, place) => cell({
        take, verdicts, candidate: of(take)[index], go: () => go(place, index),
      }))));
    return make('table', {}, make('thead', {}, head), make('tbody', {}, ...rows));
  }

  function notes({ audition, verdicts, of }) {
    const lines = audition.takes.flatMap((take) => of(take).flatMap((candidate) => {
      const { note } = verdicts.of(take, candidate);
      return note ? [make('li', {}, make('bdi', {}, candidate.name), ' on ', make('bdi', {}, take.name), `: ${note}`)] : [];
    }));
    return lines.length ? make('ul', { class: 'remarks' }, ...lines) : '';
  }

  /**
   * Open the overview.
   * @param {{audition: Object, verdicts: Object, of: (take: Object) => Object[], save: () => string,
   *   go: (take: number, candidate: number) => void}} given `of` gives a take's candidates and what was set by hand,
   *   `save` returns the file's name, `go` has a take and a candidate heard.
   */
  function open({ audition, verdicts, of, save, go }) {
    const listener = make('input', { type: 'text', maxlength: 80, autocomplete: 'name', value: verdicts.listener,
      change: (event) => verdicts.setListener(event.target.value.trim()) });
    const said = make('p', { role: 'status', class: 'facts said' });
    const dialog = make('dialog', { class: 'overview', 'aria-label': 'Overview of all verdicts', close: () => dialog.remove() },
      make('div', { class: 'line' },
        make('h2', {}, 'Overview'),
        make('label', {}, 'Your name ', listener),
        button('Save the verdicts', () => {
          const name = save();
          said.textContent = `Saved as “${name}”. Read it: sublatch decide "${name}"`;
        }),
        button('Close', () => dialog.close())),
      said,
      verdicts.kept ? '' : make('p', { class: 'trouble' }, 'This browser keeps nothing for a page like this one: save before you leave.'),
      make('div', { class: 'scroll', tabindex: 0, role: 'group', 'aria-label': 'Takes by candidates' },
        grid({ audition, verdicts, of, go: (...where) => { dialog.close(); go(...where); } })),
      notes({ audition, verdicts, of }));
    document.body.append(dialog);
    dialog.showModal();
  }

  globalThis.sublatch ??= {};
  sublatch.overview = { open };
})();
