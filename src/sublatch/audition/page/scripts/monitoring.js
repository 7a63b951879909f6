'use strict';

// Whether a take is heard through its loudspeaker and with its bed.
(() => {
  const NAMES = { voicing: 'loudspeaker', bed: 'bed' };

  function boxes(section) {
    return [...section.querySelectorAll('[data-heard]')];
  }

  function connect(section, player) {
    const show = () => {
      for (const box of boxes(section)) box.checked = player.heard[box.dataset.heard];
    };
    for (const box of boxes(section)) {
      box.addEventListener('change', () => player.hear({ [box.dataset.heard]: box.checked }));
    }
    player.addEventListener('heard', show);
    player.addEventListener('loaded', () => {
      for (const box of boxes(section)) box.disabled = player.lost.some(({ which }) => which === box.dataset.heard);
    });
    show();
  }

  // Turn one of them on or off; returns what is said of it, nothing where the take has no such thing.
  function turn(section, player, kind) {
    if (!boxes(section).some((box) => box.dataset.heard === kind)) return null;
    player.hear({ [kind]: !player.heard[kind] });
    return `${NAMES[kind]} ${player.heard[kind] ? 'on' : 'off'}`;
  }

  globalThis.sublatch ??= {};
  sublatch.monitoring = { connect, turn };
})();
