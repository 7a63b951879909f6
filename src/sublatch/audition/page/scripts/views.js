'use strict';

// One picture at a time beside the list; which one holds for every take. Live controls, where the page has them, are one.
(() => {
  let wanted = 'response';

  function buttons(section) {
    return [...section.querySelectorAll('[data-view]')].filter((button) => !button.hidden);
  }

  /**
   * Show in a take the picture that is wanted, or its first.
   * @param {HTMLElement} section
   */
  function show(section) {
    const all = buttons(section);
    const shown = all.some(({ dataset }) => dataset.view === wanted) ? wanted : all[0]?.dataset.view;
    for (const button of all) button.setAttribute('aria-pressed', String(button.dataset.view === shown));
    for (const pane of section.querySelectorAll('[data-pane]')) pane.hidden = pane.dataset.pane !== shown;
    section.querySelector('.legend').hidden = shown === 'turn';
    const turning = section.querySelector('[data-pane=turn] details');
    if (turning) turning.open = shown === 'turn';
  }

  /**
   * Tie a take's buttons to its pictures.
   * @param {HTMLElement} section
   */
  function connect(section) {
    section.querySelector('[data-view=turn]').hidden = !section.querySelector('[data-pane=turn]').childElementCount;
    for (const button of buttons(section)) {
      button.addEventListener('click', () => {
        wanted = button.dataset.view;
        show(section);
      });
    }
  }

  /**
   * Go on to a take's next picture.
   * @param {HTMLElement} section
   */
  function next(section) {
    const all = buttons(section);
    const at = all.findIndex((button) => button.getAttribute('aria-pressed') === 'true');
    all[(at + 1) % all.length]?.click();
  }

  globalThis.sublatch ??= {};
  sublatch.views = { connect, show, next };
})();
