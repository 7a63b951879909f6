'use strict';

// The takes as tabs: one is shown. Without scripts they are links to parts of the page.
(() => {
  class Tabs {
    /**
     * @param {{sections: HTMLElement[], shown: (place: number) => void}} given The takes' sections, failed ones too, and
     *   what is to be done when one is shown.
     */
    constructor({ sections, shown }) {
      Object.assign(this, { sections, shown, place: 0 });
      this.links = [...document.querySelectorAll('nav a')];
      this.links[0]?.closest('ul').setAttribute('role', 'tablist');
      this.links.forEach((link, i) => this.connect(link, i));
    }

    connect(link, i) {
      link.parentElement.setAttribute('role', 'presentation');
      link.setAttribute('role', 'tab');
      link.id = `tab-${i + 1}`;
      this.sections[i].setAttribute('role', 'tabpanel');
      link.addEventListener('click', (event) => {
        event.preventDefault();
        this.show(i);
      });
      link.addEventListener('keydown', (event) => {
        const go = (next) => {
          this.show(Math.min(Math.max(next, 0), this.links.length - 1));
          this.links[this.place].focus();
        };
        sublatch.keys.dispatch(event, sublatch.keys.NOTES, {
          step: (by) => go(i + by), first: () => go(0), last: () => go(this.links.length - 1),
        });
      });
    }

    /**
     * Show another take, from the last on again the first.
     * @param {number} by
     */
    step(by) {
      const count = this.sections.length;
      this.show((this.place + by + count) % count);
    }

    /** @param {number} place */
    show(place) {
      this.place = place;
      this.sections.forEach((section, i) => section.classList.toggle('shown', i === place));
      this.links.forEach((link, i) => {
        link.setAttribute('aria-selected', String(i === place));
        link.tabIndex = i === place ? 0 : -1;
      });
      const [link] = this.links.slice(place);
      if (link) {
        const strip = link.closest('ul');
        const [one, all] = [link.getBoundingClientRect(), strip.getBoundingClientRect()];
        if (one.left < all.left || one.right > all.right) strip.scrollLeft += one.left - all.left - 40;
      }
      this.shown(place);
    }
  }

  globalThis.sublatch ??= {};
  sublatch.Tabs = Tabs;
})();
