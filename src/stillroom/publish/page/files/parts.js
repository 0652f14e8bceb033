// Small parts of a page: elements, drawings, tables. Text goes in as text only, never as markup.
'use strict';

Stillroom.parts = (function () {
  var SVG = 'http://www.w3.org/2000/svg';

  /**
   * @param {Element} node
   * @param {Object<string, *>} told attributes; `on…` are listeners, true an empty attribute, false or null none
   * @param {Array<*>} children elements, texts, or null
   */
  function fill(node, told, children) {
    Object.keys(told || {}).forEach(function (name) {
      var value = told[name];
      if (value === null || value === undefined || value === false) return;
      if (typeof value === 'function') node.addEventListener(name.slice(2), value);
      else node.setAttribute(name, value === true ? '' : String(value));
    });
    children.forEach(function (child) {
      if (child === null || child === undefined || child === '') return;
      node.appendChild(typeof child === 'object' ? child : document.createTextNode(String(child)));
    });
    return node;
  }

  /** An element of HTML. @returns {any} */
  function el(/** @type {string} */ tag, /** @type {Object<string, *>} */ told) {
    return fill(document.createElement(tag), told, Array.prototype.slice.call(arguments, 2));
  }

  /** An element of SVG. @returns {any} */
  function svg(/** @type {string} */ tag, /** @type {Object<string, *>} */ told) {
    return fill(document.createElementNS(SVG, tag), told, Array.prototype.slice.call(arguments, 2));
  }

  /** @param {Element} node @param {...*} children */
  function put(node) {
    node.replaceChildren();
    return fill(node, {}, Array.prototype.slice.call(arguments, 1));
  }

  /** Change a text only where it differs: what stays is not read out again, nor laid out. */
  function say(/** @type {Element} */ node, /** @type {string} */ words) {
    if (node.textContent !== words) node.textContent = words;
  }

  /** Change an attribute only where it differs. */
  function set(/** @type {Element} */ node, /** @type {string} */ name, /** @type {string} */ value) {
    if (node.getAttribute(name) !== value) node.setAttribute(name, value);
  }

  /**
   * A table with its caption; numbers stand to the right.
   * @param {string} caption
   * @param {string[]} headers
   * @param {Array<Array<*>>} rows the first cell is the row's name
   * @param {number[]} right columns of numbers @param {number} [wide] a column of many words
   */
  function table(caption, headers, rows, right, wide) {
    function cls(/** @type {number} */ at) { return at === wide ? 'wide' : right.indexOf(at) >= 0 ? 'n' : null; }
    return el('div', { class: 'scroll', tabindex: '0', role: 'region', 'aria-label': caption },
      el('table', {},
        el('caption', {}, caption),
        el('thead', {}, fill(el('tr', {}), {}, headers.map(function (each, at) {
          return el('th', { scope: 'col', class: cls(at) }, each);
        }))),
        fill(el('tbody', {}), {}, rows.map(function (row) {
          return fill(el('tr', {}), {}, row.map(function (each, at) {
            return at ? el('td', { class: cls(at) }, each) : el('th', { scope: 'row' }, each);
          }));
        }))));
  }

  /**
   * Even steps from 0 or below `low` to `high` or beyond.
   * @param {number} low @param {number} high @param {number} most
   * @returns {number[]}
   */
  function ticks(low, high, most) {
    var raw = (high - low) / most || 1;
    var power = Math.pow(10, Math.floor(Math.log10(raw)));
    var step = power * [1, 2, 2.5, 5, 10].filter(function (each) { return each * power >= raw * 0.999; })[0];
    var first = Math.floor(low / step + 1e-9);
    var last = Math.ceil(high / step - 1e-9);
    var found = [];
    for (var at = first; at <= last; at += 1) found.push(at * step);
    return found;
  }

  /** A tick's words: as many decimals as its step needs. @param {number[]} all @returns {string[]} */
  function tickWords(all) {
    var step = all.length > 1 ? all[1] - all[0] : 1;
    var places = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
    if (Math.abs(step * Math.pow(10, places) - Math.round(step * Math.pow(10, places))) > 1e-6) places += 1;
    return all.map(function (each) { return Stillroom.words.number(each, places); });
  }

  return { el: el, svg: svg, put: put, say: say, set: set, fill: fill, table: table, ticks: ticks,
    tickWords: tickWords };
})();
