'use strict';

// Elements made by scripts: their attributes, listeners and contents; texts stay texts.
(() => {
  /**
   * Make an element.
   * @param {string} tag
   * @param {Object<string, (string|number|boolean|Function)>} [attributes] A function is a listener, false leaves one out.
   * @param {...(Node|string)} inside
   * @returns {HTMLElement}
   */
  function make(tag, attributes = {}, ...inside) {
    const element = document.createElement(tag);
    for (const [name, value] of Object.entries(attributes)) {
      if (typeof value === 'function') element.addEventListener(name, value);
      else if (value !== false) element.setAttribute(name, value === true ? '' : value);
    }
    element.append(...inside);
    return element;
  }

  /**
   * Make a button.
   * @param {string} text
   * @param {EventListener} click
   * @param {Object<string, (string|number|boolean|Function)>} [attributes]
   */
  function button(text, click, attributes = {}) {
    return make('button', { type: 'button', click, ...attributes }, text);
  }

  /**
   * Have the browser save a text as a file.
   * @param {string} name
   * @param {string} text A JSON document.
   */
  function save(name, text) {
    const url = URL.createObjectURL(new Blob([text], { type: 'application/json' }));
    make('a', { href: url, download: name }).click();
    setTimeout(() => URL.revokeObjectURL(url), 60000);
  }

  /**
   * Return a text that any system takes as part of a file's name.
   * @param {string} text
   */
  function fileWord(text) {
    return text.replace(/[^\p{L}\p{N} ._-]/gu, '_').slice(0, 40);
  }

  globalThis.sublatch ??= {};
  sublatch.markup = { make, button, save, fileWord };
})();
